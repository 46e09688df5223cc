//! Which comments above a thing are about it.

/// What stands above a thing: the lines up to the last blank one are not about it.
pub(super) struct Above<'a> {
    /// Lines that stay when the thing goes.
    pub kept: &'a str,
    /// The blank line below them, if any.
    pub blank: &'a str,
}

impl<'a> Above<'a> {
    /// Of the lines before a thing, the last of which may be its indentation.
    pub fn of(lines: &'a str) -> Above<'a> {
        let mut end = 0;
        let mut found = Above { kept: "", blank: "" };
        for line in lines.split_inclusive('\n') {
            if is_blank(line) {
                found = Above { kept: &lines[..end], blank: line };
            }
            end += line.len();
        }
        found
    }

    /// The kept lines put before `next`, apart from it.
    pub fn before(&self, next: &str) -> String {
        let gap = match (begins_blank(next), self.blank) {
            (true, _) => "",
            (false, "") => "\n",
            (false, blank) => blank,
        };
        format!("{}{gap}{next}", self.kept)
    }

    /// The kept lines put before the end of a file or a list, and apart from what is there.
    pub fn before_end(&self, end: &str) -> String {
        if end.trim().is_empty() { format!("{}{end}", self.kept) } else { self.before(end) }
    }

    pub fn is_empty(&self) -> bool {
        self.kept.trim().is_empty()
    }
}

/// Parts the lines below the last thing of a file: what ends with a blank line is about what stands
/// above it, and the rest are the file's last words. Nothing where all are that.
pub(super) fn below(lines: &str) -> Option<(&str, &str)> {
    let above = Above::of(&lines[..lines.trim_end().len()]);
    (!above.is_empty()).then(|| lines.split_at(above.kept.len()))
}

/// Whether a blank line comes first.
pub(super) fn begins_blank(lines: &str) -> bool {
    lines.split_inclusive('\n').next().is_some_and(is_blank)
}

fn is_blank(line: &str) -> bool {
    line.ends_with('\n') && line.trim().is_empty()
}

/// The blank lines at the beginning taken off.
pub(super) fn without_first_blanks(mut lines: &str) -> &str {
    while let Some(line) = lines.split_inclusive('\n').next().filter(|line| is_blank(line)) {
        lines = &lines[line.len()..];
    }
    lines
}
