use std::collections::BTreeMap;
use std::sync::{LazyLock, OnceLock};

use include_dir::{Dir, include_dir};

use super::{parse_machines, parse_size_table_over, parse_swatches, parse_times, parse_yarn};
use diag::{Code, Diagnostics};
use knit::body::{Measures, SizeTable};
use knit::estimate::TimeTable;
use knit::machine::Machine;
use knit::stash::{NamedSwatches, Yarn};
use script::PluginSource;

static PLUGINS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../plugins");
static SIZE_TABLES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../size-tables");
static SWATCHES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../fixtures/demo/swatches");
static YARNS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../fixtures/demo/yarns");
const MACHINES: &str = include_str!("defaults/machines.toml");
const TIMES: &str = include_str!("defaults/times.toml");

/// The body table that comes with the program.
///
/// # Errors
/// Never in a build whose tests pass; reported like a user's faulty table all the same.
pub fn default_size_table() -> Result<SizeTable, Diagnostics> {
    /// Read once, when it is first asked for: every table of a user's is read over it.
    static READ: LazyLock<Result<SizeTable, Diagnostics>> = LazyLock::new(|| {
        let mut table = SizeTable::new();
        let mut files: Vec<_> = SIZE_TABLES.files().collect();
        files.sort_by_key(|f| f.path());
        for (nth, file) in files.into_iter().enumerate() {
            let name = format!("size-tables/{}", file.path().display());
            let text = file.contents_utf8().unwrap_or_default();
            let (read, _) = parse_size_table_over(table.known(), &name, text)?;
            table = if nth == 0 { read } else { table.merged_with(&read) };
        }
        if table.sizes().is_empty() {
            return Err(diag::Diagnostic::error(Code::NoTable, "no size table built in").into());
        }
        Ok(table)
    });
    READ.clone()
}

/// The measures of the table that comes with the program.
pub(crate) fn shipped_measures() -> Result<Measures, Diagnostics> {
    Ok(default_size_table()?.known().clone())
}

/// The machine profiles that come with the program.
///
/// # Errors
/// As [`default_size_table`].
pub fn default_machines() -> Result<Vec<Machine>, Diagnostics> {
    parse_machines("machines.toml", MACHINES)
}

/// The times that operations take, as they come with the program: one for each there is.
///
/// # Errors
/// As [`default_size_table`].
pub fn default_times() -> Result<TimeTable, Diagnostics> {
    Ok(TimeTable::new(parse_times("times.toml", TIMES)?))
}

/// Reads a size table of someone's own, in which the shipped table's measures are known; a column with
/// a title and a meaning makes another known. `file` is only a name to show. Bare numbers take the
/// table's `unit`; a text carries its own ("56 cm").
///
/// # Errors
/// Every fault found in a text that is TOML of the right shape (a fault of syntax or shape ends
/// the reading at once). Warnings, such as a measure that gets smaller as the sizes grow, come
/// with the table when nothing worse was found.
pub fn parse_size_table(file: &str, text: &str) -> Result<(SizeTable, Diagnostics), Diagnostics> {
    let known = shipped_measures()?;
    parse_size_table_over(&known, file, text)
}

/// The demo swatch for a machine profile, where there is one.
///
/// # Errors
/// As [`default_size_table`].
pub fn demo_swatch(machine: &str) -> Result<Option<NamedSwatches>, Diagnostics> {
    type Read = Result<NamedSwatches, Diagnostics>;
    /// Each is read when it is first asked for, and once.
    static READ: LazyLock<BTreeMap<&str, (&str, OnceLock<Read>)>> = LazyLock::new(|| {
        let files = SWATCHES.files().filter_map(|file| {
            let machine = file.path().file_name()?.to_str()?.strip_suffix(".toml")?;
            Some((machine, (file.contents_utf8().unwrap_or_default(), OnceLock::new())))
        });
        files.collect()
    });
    let Some((text, read)) = READ.get(machine) else { return Ok(None) };
    let name = || format!("demo swatch {machine}.toml");
    read.get_or_init(|| parse_swatches(&name(), text)).clone().map(Some)
}

/// A yarn of the demo scenario, where there is one of that id.
///
/// # Errors
/// As [`default_size_table`].
pub fn demo_yarn(id: &str) -> Result<Option<Yarn>, Diagnostics> {
    let Some(file) = YARNS.get_file(format!("{id}.toml")) else {
        return Ok(None);
    };
    parse_yarn(&format!("demo yarn {id}.toml"), file.contents_utf8().unwrap_or_default()).map(Some)
}

/// Ids of the demo scenario's yarns, in order.
pub fn demo_yarn_ids() -> Vec<&'static str> {
    let mut ids: Vec<_> =
        YARNS.files().filter_map(|f| f.path().file_stem().and_then(|s| s.to_str())).collect();
    ids.sort_unstable();
    ids
}

/// Ids of the garments that come with the program, in order.
pub fn shipped_plugin_ids() -> Vec<&'static str> {
    shipped().to_vec()
}

/// Whether a garment of that id comes with the program.
pub fn is_shipped_plugin(id: &str) -> bool {
    shipped().contains(&id)
}

fn shipped() -> &'static [&'static str] {
    static IDS: LazyLock<Vec<&str>> = LazyLock::new(|| holding(PLUGINS.dirs(), "plugin.toml"));
    &IDS
}

/// Names of those of the folders that hold a file of that name, in order. Each looks at its own files alone: to ask for a
/// path goes through all that is built in.
fn holding(folders: impl Iterator<Item = &'static Dir<'static>>, file: &str) -> Vec<&'static str> {
    let holds = |folder: &&Dir<'_>| {
        folder.files().any(|own| own.path().file_name().is_some_and(|name| name == file))
    };
    let names = folders.filter(holds).filter_map(|folder| folder.path().file_name()?.to_str());
    let mut names: Vec<_> = names.collect();
    names.sort_unstable();
    names
}

/// Names of the parts that come with the program, in order.
pub fn shipped_part_names() -> &'static [&'static str] {
    static NAMES: LazyLock<Vec<&str>> = LazyLock::new(|| {
        holding(PLUGINS.get_dir("parts").into_iter().flat_map(Dir::dirs), "part.toml")
    });
    &NAMES
}

/// A part that comes with the program.
pub fn shipped_part(name: &str) -> Option<PluginSource> {
    shipped_part_names().contains(&name).then(|| shipped_plugin(&format!("parts/{name}"))).flatten()
}

/// A garment that comes with the program.
pub fn shipped_plugin(id: &str) -> Option<PluginSource> {
    let dir = PLUGINS.get_dir(id)?;
    let mut files = BTreeMap::new();
    gather(dir, dir, &mut files);
    Some(PluginSource { folder: format!("plugins/{id}"), files })
}

fn gather(root: &Dir<'_>, dir: &Dir<'_>, files: &mut BTreeMap<String, Vec<u8>>) {
    for file in dir.files() {
        if let Some(path) = file.path().strip_prefix(root.path()).ok().and_then(|p| p.to_str()) {
            files.insert(path.to_owned(), file.contents().to_vec());
        }
    }
    for sub in dir.dirs() {
        gather(root, sub, files);
    }
}
