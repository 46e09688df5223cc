//! A garment in the round as a file for programs that show and print solid things: glTF 2.0 in one
//! binary file. Metres, y upwards, its front towards larger z.

use std::collections::BTreeMap;

use gltf_json as json;
use json::validation::Checked::Valid;
use json::validation::USize64;
use json::{Index, accessor, buffer, material, mesh, scene};
use serde_json::json;

use crate::drawing::InRound;
use crate::round_mesh::Mesh;
use knit::colours::Shade;
use knit::round::Point;

/// Between two sizes, and between the two of a pair, in mm.
const GAP_MM: f64 = 40.0;
/// Cloth of no known colour.
const BARE: Shade = Shade { red: 0xd9, green: 0xd4, blue: 0xc7 };
/// Said in the file.
const MODEL: &str = "A picture of a model: where cloth would lie, not a promise.";

/// The sizes side by side: a node for each part that hangs together, and one for what it lies on.
pub fn round_glb(title: &str, sizes: &[InRound<'_>]) -> Vec<u8> {
    let mut file = Glb::new(title);
    let mut left = 0.0;
    for size in sizes {
        let count = size.shape.parts.len();
        for (nth, part) in size.shape.parts.iter().enumerate() {
            let name = match count {
                1 => size.label.to_owned(),
                _ => format!("{}, {} of {count}", size.label, nth + 1),
            };
            let cloth = Mesh::of_cloth(part);
            let form = part.form.as_ref().map(Mesh::of_form);
            let (low, high) = [&cloth]
                .into_iter()
                .chain(&form)
                .flat_map(|mesh| &mesh.at)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), point| {
                    (low.min(point.x), high.max(point.x))
                });
            if low > high {
                continue;
            }
            let moved = left - low;
            left += high - low + GAP_MM;
            let paints = size.paints.get(nth).map(Vec::as_slice).unwrap_or_default();
            let shade = |n: usize| {
                let paint = paints.get(n).copied().flatten().map(usize::from);
                paint.and_then(|n| size.palette.colours.get(n)).map_or(BARE, |c| c.shade)
            };
            let shades: Vec<Shade> = (0..cloth.at.len()).map(shade).collect();
            file.add(&name, &cloth, Some(&shades), moved);
            if let Some(form) = &form {
                file.add(&format!("{name}: what it lies on"), form, None, moved);
            }
        }
    }
    file.finish()
}

/// A file that is being put together.
struct Glb {
    root: json::Root,
    bytes: Vec<u8>,
    nodes: Vec<Index<scene::Node>>,
    cloth: Index<json::Material>,
    form: Index<json::Material>,
    title: String,
}

impl Glb {
    fn new(title: &str) -> Glb {
        let mut root = json::Root::default();
        root.asset.generator = Some(format!("oddments {}", env!("CARGO_PKG_VERSION")));
        let words = json!({ "title": title, "note": MODEL });
        root.asset.extras = serde_json::value::to_raw_value(&words).ok();
        let material = |name: &str, base: [f32; 4]| json::Material {
            name: Some(name.to_owned()),
            double_sided: true,
            pbr_metallic_roughness: material::PbrMetallicRoughness {
                base_color_factor: material::PbrBaseColorFactor(base),
                metallic_factor: material::StrengthFactor(0.0),
                roughness_factor: material::StrengthFactor(1.0),
                ..material::PbrMetallicRoughness::default()
            },
            ..json::Material::default()
        };
        let cloth = root.push(material("yarn", [1.0; 4]));
        let form = root.push(material("what it lies on", [0.82, 0.80, 0.76, 1.0]));
        let title = title.to_owned();
        Glb { root, bytes: Vec::new(), nodes: Vec::new(), cloth, form, title }
    }

    /// A mesh of one colour a point, or of the form's own, moved to the right by so many mm.
    fn add(&mut self, name: &str, mesh: &Mesh, shades: Option<&[Shade]>, moved_mm: f64) {
        if mesh.faces.is_empty() {
            return;
        }
        let places: Vec<[f32; 3]> = mesh.at.iter().map(|point| metres(*point)).collect();
        // A point of no face has no side: it looks up.
        let way =
            |normal: Point| if normal.length() > 0.5 { normal } else { Point::new(0.0, 1.0, 0.0) };
        let normals = mesh.normals().into_iter().map(|n| parts(way(n)));
        let mut attributes = BTreeMap::new();
        let of_points = Some(buffer::Target::ArrayBuffer);
        let (low, high) = (least(&places, f32::min), least(&places, f32::max));
        let at = self.accessor(floats(places.iter().copied()), mesh.at.len(), VEC3_F32, of_points);
        self.root.accessors[at.value()].min = Some(json!(low));
        self.root.accessors[at.value()].max = Some(json!(high));
        attributes.insert(Valid(mesh::Semantic::Positions), at);
        let normals = self.accessor(floats(normals), mesh.at.len(), VEC3_F32, of_points);
        attributes.insert(Valid(mesh::Semantic::Normals), normals);
        if let Some(shades) = shades {
            let colours = shades.iter().flat_map(|shade| linear(*shade)).collect();
            let colours = self.accessor(colours, shades.len(), VEC4_U16, of_points);
            self.root.accessors[colours.value()].normalized = true;
            attributes.insert(Valid(mesh::Semantic::Colors(0)), colours);
        }
        let corners = mesh.faces.iter().flatten().flat_map(|n| n.to_le_bytes()).collect();
        let elements = Some(buffer::Target::ElementArrayBuffer);
        let indices = self.accessor(corners, mesh.faces.len() * 3, SCALAR_U32, elements);
        let primitive = mesh::Primitive {
            attributes,
            extensions: None,
            extras: None,
            indices: Some(indices),
            material: Some(if shades.is_some() { self.cloth } else { self.form }),
            mode: Valid(mesh::Mode::Triangles),
            targets: None,
        };
        let mesh = self.root.push(json::Mesh {
            extensions: None,
            extras: None,
            name: Some(name.to_owned()),
            primitives: vec![primitive],
            weights: None,
        });
        let node = scene::Node {
            mesh: Some(mesh),
            name: Some(name.to_owned()),
            translation: Some([(moved_mm / 1000.0) as f32, 0.0, 0.0]),
            ..scene::Node::default()
        };
        self.nodes.push(self.root.push(node));
    }

    /// Bytes with what they are; their number is a multiple of four.
    fn accessor(
        &mut self,
        bytes: Vec<u8>,
        count: usize,
        (kind, of): (accessor::ComponentType, accessor::Type),
        target: Option<buffer::Target>,
    ) -> Index<json::Accessor> {
        let view = self.root.push(buffer::View {
            buffer: Index::new(0),
            byte_length: USize64::from(bytes.len()),
            byte_offset: Some(USize64::from(self.bytes.len())),
            byte_stride: None,
            name: None,
            target: target.map(Valid),
            extensions: None,
            extras: None,
        });
        self.bytes.extend(bytes);
        self.root.push(json::Accessor {
            buffer_view: Some(view),
            byte_offset: Some(USize64(0)),
            count: USize64::from(count),
            component_type: Valid(accessor::GenericComponentType(kind)),
            extensions: None,
            extras: None,
            type_: Valid(of),
            min: None,
            max: None,
            name: None,
            normalized: false,
            sparse: None,
        })
    }

    fn finish(mut self) -> Vec<u8> {
        if !self.bytes.is_empty() {
            self.root.push(json::Buffer {
                byte_length: USize64::from(self.bytes.len()),
                name: None,
                uri: None,
                extensions: None,
                extras: None,
            });
        }
        let scene = self.root.push(json::Scene {
            extensions: None,
            extras: None,
            name: Some(self.title),
            nodes: self.nodes,
        });
        self.root.scene = Some(scene);
        // Plain data: it can't fail to be written down.
        let mut text = serde_json::to_vec(&self.root).unwrap_or_default();
        text.resize(text.len().next_multiple_of(4), b' ');
        let mut chunks = vec![(*b"JSON", text)];
        if !self.bytes.is_empty() {
            chunks.push((*b"BIN\0", self.bytes));
        }
        let length = 12 + chunks.iter().map(|(_, bytes)| 8 + bytes.len()).sum::<usize>();
        let mut file = Vec::with_capacity(length);
        file.extend(b"glTF");
        file.extend(2u32.to_le_bytes());
        file.extend((length as u32).to_le_bytes());
        for (kind, bytes) in chunks {
            file.extend((bytes.len() as u32).to_le_bytes());
            file.extend(kind);
            file.extend(bytes);
        }
        file
    }
}

const VEC3_F32: (accessor::ComponentType, accessor::Type) =
    (accessor::ComponentType::F32, accessor::Type::Vec3);
const VEC4_U16: (accessor::ComponentType, accessor::Type) =
    (accessor::ComponentType::U16, accessor::Type::Vec4);
const SCALAR_U32: (accessor::ComponentType, accessor::Type) =
    (accessor::ComponentType::U32, accessor::Type::Scalar);

fn parts(point: Point) -> [f32; 3] {
    [point.x as f32, point.y as f32, point.z as f32]
}

fn metres(point: Point) -> [f32; 3] {
    parts(point * 0.001)
}

fn least(places: &[[f32; 3]], of: fn(f32, f32) -> f32) -> [f32; 3] {
    let first = places.first().copied().unwrap_or_default();
    places.iter().fold(first, |all, place| [0, 1, 2].map(|n| of(all[n], place[n])))
}

fn floats(all: impl Iterator<Item = [f32; 3]>) -> Vec<u8> {
    all.flatten().flat_map(f32::to_le_bytes).collect()
}

/// Colours of points are told as light, not as a screen's numbers.
fn linear(shade: Shade) -> Vec<u8> {
    let light = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        let light = if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
        (light * 65535.0).round() as u16
    };
    let all = [light(shade.red), light(shade.green), light(shade.blue), u16::MAX];
    all.into_iter().flat_map(u16::to_le_bytes).collect()
}
