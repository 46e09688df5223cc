//! plugin.toml as a whole.

use toml::Spanned;

use diag::{Code, Diagnostic, Place, is_control};
use knit::program::Structure;

use super::kind::ManifestKind;
use super::manifest::{API_VERSION, Manifest, SectionSpec};
use super::names::{did_you_mean, is_garment_id, is_version};
use super::toml_table::{ManifestReader, TomlTable};

const KEYS: [&str; 16] = [
    "id",
    "title",
    "version",
    "api",
    "summary",
    "measures",
    "measure",
    "sized_by",
    "own_measures",
    "structures",
    "pair",
    "grows",
    "joinable",
    "sections",
    "options",
    "parts",
];
/// Keys that a part has no use for: it is never made for a person.
const NOT_OF_A_PART: [&str; 3] = ["pair", "joinable", "grows"];

impl ManifestReader<'_> {
    /// What is wrong with `api`, where nothing else can then be judged.
    pub fn api_misfit(&self, root: &TomlTable<'_>) -> Option<Diagnostic> {
        let value = root.get("api")?;
        let api: i64 = value.get_ref().as_integer()?.to_string().parse().ok()?;
        let misfit = |message: String, hint: &str| {
            Some(
                Diagnostic::error(Code::PluginApi, message)
                    .at(Place::from_span(self.file, self.text, value.span()))
                    .hint(hint),
            )
        };
        if api > i64::from(API_VERSION) {
            misfit(
                format!(
                    "this {} is written for script API {api}, newer than the {API_VERSION} known here",
                    self.kind.noun()
                ),
                "update oddments, or use an older version of the garment",
            )
        } else if api < 1 {
            misfit(
                format!("there never was a script API {api}"),
                "write `api = 2` and check the script against plugins/README.md",
            )
        } else {
            None
        }
    }

    /// The manifest; what is wrong with it is noted.
    pub fn manifest(&mut self, root: &TomlTable<'_>, known_measures: Option<&[&str]>) -> Manifest {
        let of_a_part = self.kind == ManifestKind::Part;
        let useless = |key: &&str| of_a_part && NOT_OF_A_PART.contains(key);
        let known: Vec<&str> = KEYS.into_iter().filter(|key| !useless(key)).collect();
        self.unknown_keys(root, &known);
        let id = self.text_of(root, "id");
        if let Some(value) = root.get("id")
            && !id.is_empty()
            && !is_garment_id(&id)
        {
            self.push(
                value.span(),
                format!("`{id}` is not a {} id", self.kind.noun()),
                "begin with a letter and use a to z, 0 to 9 and `-`, 40 at most",
            );
        }
        let version = self.text_of(root, "version");
        if let Some(value) = root.get("version")
            && !version.is_empty()
            && !is_version(&version)
        {
            self.push(value.span(), format!("`{version}` is not a version"), "write it like 1.0.0");
        }
        let own_measures = self.own_measures(root, known_measures);
        let own = || own_measures.iter().map(|own| own.spec.name.as_str());
        let known: Option<Vec<&str>> =
            known_measures.map(|known| known.iter().copied().chain(own()).collect());
        let measures = self.measures(root, known.as_deref());
        let measure = self
            .one_of_measures(root, "measure", &measures)
            .unwrap_or_else(|| measures.first().cloned().unwrap_or_default());
        let sized_by =
            self.one_of_measures(root, "sized_by", &measures).unwrap_or_else(|| measure.clone());
        let sections = self.sections(root);
        let joinable = self.joinable(root, &sections);
        let api = self.api(root);
        Manifest {
            title: self.text_of(root, "title"),
            api,
            parts: self.parts(root, api),
            summary: self.text_of(root, "summary"),
            structures: self.structures(root),
            pair: self.flag_of(root, "pair"),
            grows: self.names_of(root, "grows"),
            options: self.options(root),
            sections,
            joinable,
            id,
            version,
            measures,
            measure,
            sized_by,
            own_measures,
        }
    }

    /// A key that names one of `measures`; `None` where it is not there.
    fn one_of_measures(
        &mut self,
        root: &TomlTable<'_>,
        key: &str,
        measures: &[String],
    ) -> Option<String> {
        let value = root.get(key)?;
        let name = self.text_of(root, key);
        if !name.is_empty() && !measures.contains(&name) {
            let fault = self
                .fault(value.span(), format!("`{name}` is not among `measures`"))
                .hint(did_you_mean(&name, measures.iter().map(String::as_str)));
            self.faults.push(fault);
        }
        Some(name)
    }

    fn joinable(&mut self, root: &TomlTable<'_>, sections: &[SectionSpec]) -> Vec<String> {
        let listed = self.list_of(root, "joinable");
        for (name, span) in &listed {
            if !sections.iter().any(|section| section.name == *name) {
                let known = sections.iter().map(|section| section.name.as_str());
                let message = format!("`{name}` is not among `[sections]`");
                self.push(span.clone(), message, did_you_mean(name, known));
            }
        }
        listed.into_iter().map(|(name, _)| name).collect()
    }

    fn api(&mut self, root: &TomlTable<'_>) -> u32 {
        let hint = format!("write `api = {API_VERSION}`");
        match root.get("api") {
            Some(value) => match value.get_ref().as_integer().map(|api| api.to_string().parse()) {
                Some(Ok(api)) => return api,
                _ => self.push(value.span(), "`api` must be a whole number", hint),
            },
            None => {
                let message = format!("{} has no `api`", self.kind.file());
                self.push(0..0, message, format!("add `api = {API_VERSION}`"));
            }
        }
        API_VERSION
    }

    fn measures(&mut self, root: &TomlTable<'_>, known: Option<&[&str]>) -> Vec<String> {
        let listed = self.list_of(root, "measures");
        if root.get("measures").is_none() && self.kind == ManifestKind::Garment {
            self.push(
                0..0,
                "plugin.toml names no body measure",
                "list what the script reads: `measures = [\"head_girth\"]`, or `[]` for a thing that no \
                 one wears",
            );
        }
        for (name, span) in known.iter().flat_map(|_| &listed) {
            let known = known.unwrap_or_default();
            if !known.contains(&name.as_str()) {
                let message = format!("`{name}` is not a body measure");
                self.push(span.clone(), message, did_you_mean(name, known.iter().copied()));
            }
        }
        listed.into_iter().map(|(name, _)| name).collect()
    }

    fn structures(&mut self, root: &TomlTable<'_>) -> Vec<Structure> {
        let listed = self.list_of(root, "structures");
        if listed.is_empty() && self.kind == ManifestKind::Part {
            return vec![Structure::Plain];
        }
        if listed.is_empty() && !self.is_misspelt(root, "structures") {
            let span = root.get("structures").map_or(0..0, Spanned::span);
            self.push(
                span,
                "plugin.toml names no structure",
                "list what the garment is knitted in: `structures = [\"plain\"]`",
            );
        }
        let mut structures = Vec::new();
        for (name, span) in listed {
            match Structure::parse(&name) {
                Some(structure) => structures.push(structure),
                None => {
                    let known = Structure::ALL.map(Structure::name);
                    self.push(
                        span,
                        format!("`{name}` is not a structure"),
                        did_you_mean(&name, known),
                    );
                }
            }
        }
        structures
    }

    fn sections(&mut self, root: &TomlTable<'_>) -> Vec<SectionSpec> {
        let Some(table) = self.table_of(root, "sections") else {
            // A sample that is one piece needs no word about its yarn.
            let sample = || SectionSpec { name: "sample".into(), title: "Sample".into() };
            return (self.kind == ManifestKind::Part).then(sample).into_iter().collect();
        };
        let mut sections = Vec::new();
        for (name, span, value) in table.in_order() {
            self.check_name(name, span);
            match value.get_ref().as_str() {
                Some(title) if title.chars().count() <= 200 && !title.contains(is_control) => {
                    sections.push(SectionSpec { name: name.to_owned(), title: title.to_owned() });
                }
                _ => self.push(
                    value.span(),
                    format!("section `{name}` must have a title, a plain text"),
                    format!("write `{name} = \"...\"`"),
                ),
            }
        }
        sections
    }
}
