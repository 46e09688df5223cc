use toml_edit::visit_mut::VisitMut;
use toml_edit::{DocumentMut, Formatted, Value};

use diag::{Code, Diagnostic};

/// How a file writes its line ends, so that each line keeps its own through an edit.
///
/// The editor under us knows `\n` alone. So the text it gets has only those, and the lines that
/// end otherwise than most bear a mark: blanks at their end, which TOML takes anywhere and the
/// editor carries along with whatever the line belongs to.
#[derive(Clone, Debug)]
pub(super) struct LineEnds {
    /// A byte order mark stands first.
    bom: bool,
    /// Most lines, and new ones, end with `\r\n`.
    crlf: bool,
    /// Marks a line that ends the other way.
    odd: String,
    /// Marks the last line, where it has no end.
    cut: String,
}

impl LineEnds {
    /// A text parsed, and how to write it again.
    ///
    /// # Errors
    /// A text that isn't TOML, or can't be written again as it was.
    pub fn parsed(path: &str, text: &str) -> Result<(DocumentMut, LineEnds), Diagnostic> {
        let ends = LineEnds::of(text);
        let marked = ends.marked(text);
        let document: DocumentMut = marked.parse().map_err(|_| {
            Diagnostic::error(Code::Toml, format!("{path} is not sound TOML: it is left as it is"))
                .hint("mend it first; `oddments stash list` tells where")
        })?;
        if document.to_string() != marked {
            return Err(Diagnostic::error(
                Code::UnsafeEdit,
                format!(
                    "{path} is written in a way that can't be edited without altering the rest"
                ),
            )
            .hint("make the change by hand"));
        }
        Ok((document, ends))
    }

    fn of(text: &str) -> LineEnds {
        let crlf = text.matches("\r\n").count();
        let mut odd = " \t".repeat(4);
        while text.contains(&odd) {
            odd = odd.repeat(2);
        }
        let cut = format!("{odd} ");
        let all = text.matches('\n').count();
        LineEnds { bom: text.starts_with('\u{feff}'), crlf: crlf > all - crlf, odd, cut }
    }

    fn marked(&self, text: &str) -> String {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut marked = String::with_capacity(text.len() + 1);
        for line in text.split_inclusive('\n') {
            let (body, crlf) = match (line.strip_suffix("\r\n"), line.strip_suffix('\n')) {
                (Some(body), _) => (body, Some(true)),
                (None, Some(body)) => (body, Some(false)),
                (None, None) => (line, None),
            };
            marked.push_str(body);
            match crlf {
                Some(crlf) if crlf == self.crlf => {}
                Some(_) => marked.push_str(&self.odd),
                None => marked.push_str(&self.cut),
            }
            marked.push('\n');
        }
        marked
    }

    /// The edited file as a text, with line ends as they were. New lines end as most do.
    pub fn written(&self, document: &mut DocumentMut) -> String {
        if self.crlf {
            OnOneLine.visit_document_mut(document);
        }
        self.restored(&document.to_string())
    }

    fn restored(&self, edited: &str) -> String {
        let (most, other) = if self.crlf { ("\r\n", "\n") } else { ("\n", "\r\n") };
        let mut text = String::with_capacity(edited.len() + 3);
        text.push_str(if self.bom { "\u{feff}" } else { "" });
        let mut rest = edited;
        while let Some(at) = rest.find('\n') {
            let line = &rest[..at];
            rest = &rest[at + 1..];
            let (body, end) = match (line.strip_suffix(&self.odd), line.strip_suffix(&self.cut)) {
                (Some(body), _) => (body, other),
                (None, Some(body)) => (body, if rest.is_empty() { "" } else { most }),
                (None, None) => (line, most),
            };
            text.push_str(body);
            text.push_str(end);
        }
        text.push_str(rest);
        text
    }
}

/// Writes new texts of several lines with `\n` in them: a line end of the file's own within a text
/// would be part of what it says.
struct OnOneLine;

impl VisitMut for OnOneLine {
    fn visit_string_mut(&mut self, text: &mut Formatted<String>) {
        if text.as_repr().is_some() || !text.value().contains('\n') {
            return;
        }
        // The escapes of JSON are TOML's too.
        let line = serde_json::to_string(text.value()).unwrap_or_default();
        if let Ok(Value::String(mut line)) = line.parse::<Value>() {
            *line.decor_mut() = text.decor().clone();
            *text = line;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_comes_back_as_it_was() {
        let whole =
            "\u{feff}# \t \t \t \t\r\na = '''\nx\r\ny'''\r\nb = \"\"\"p \\\n  q\"\"\"\r\n\n";
        for text in ["", "a = 1", "a = 1\r\nb = 2", "# end", "a = [1,\n2,\r\n]\n", whole] {
            let (document, ends) = LineEnds::parsed("x", text).expect("sound");
            assert_eq!(ends.restored(&document.to_string()), text);
        }
    }
}
