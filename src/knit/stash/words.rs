/// Whose words of the trade are printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Words {
    /// The program's own: gauge, cast off, colour.
    #[default]
    Usual,
    /// Gauge, bind off, color.
    American,
    /// Tension, cast off, colour.
    British,
}

impl Words {
    /// What one may ask for.
    pub const NAMES: [&str; 3] = ["usual", "american", "british"];

    /// The words of that name.
    pub fn named(name: &str) -> Option<Words> {
        match name {
            "usual" => Some(Words::Usual),
            "american" => Some(Words::American),
            "british" => Some(Words::British),
            _ => None,
        }
    }
}
