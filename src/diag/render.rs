use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::{Diagnostic, Severity, harmless};

/// A diagnostic as a person reads it in a terminal: title, the line it points at, notes, hints.
/// Ends without a newline. `colour` adds ANSI colours.
pub fn render(diagnostic: &Diagnostic, colour: bool) -> String {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    // Words may come from a script: no escape of theirs may reach the terminal, nor a line of
    // theirs pass for one of ours.
    let one_line = |text: &str| harmless(text).replace('\n', " ");
    let message = one_line(&diagnostic.message);
    let file = diagnostic.place.as_ref().map_or_else(String::new, |place| one_line(&place.file));
    let notes: Vec<String> = diagnostic.context.iter().map(|c| one_line(c)).collect();
    let hints: Vec<String> = diagnostic.hints.iter().map(|h| one_line(h)).collect();
    let title = level.primary_title(message.as_str()).id(diagnostic.code.as_str());
    let mut group = match &diagnostic.place {
        Some(place) => {
            let start = byte_of(&place.line_text, place.column - 1);
            let end = byte_of(&place.line_text, place.column - 1 + place.length).max(start);
            group_of(title).element(
                Snippet::source(place.line_text.as_str())
                    .line_start(place.line)
                    .path(file.as_str())
                    .annotation(AnnotationKind::Primary.span(start..end)),
            )
        }
        None => group_of(title),
    };
    for note in &notes {
        group = group.element(Level::NOTE.message(note.as_str()));
    }
    for hint in &hints {
        group = group.element(Level::HELP.with_name("hint").message(hint.as_str()));
    }
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    renderer.render(&[group])
}

fn group_of(title: annotate_snippets::Title<'_>) -> Group<'_> {
    Group::with_title(title)
}

fn byte_of(text: &str, column: usize) -> usize {
    text.char_indices().nth(column).map_or(text.len(), |(i, _)| i)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Code, Place};

    #[test]
    fn shows_file_line_column_the_line_and_the_hint() {
        let text = "id = \"x\"\ngirth = \"58 cmm\"\n";
        let diagnostic = Diagnostic::error(Code::Unit, "`58 cmm` is not a length")
            .at(Place::from_span("people.toml", text, 17..25))
            .hint("write it as `58 cm`");
        let shown = render(&diagnostic, false);
        assert!(shown.contains("people.toml:2:9"), "{shown}");
        assert!(shown.contains("girth = \"58 cmm\""), "{shown}");
        assert!(shown.contains("hint: write it as `58 cm`"), "{shown}");
    }

    #[test]
    fn survives_a_span_beyond_the_text() {
        let place = Place::from_span("a", "é", 1..99);
        assert_eq!((place.line, place.column), (1, 1));
        render(&Diagnostic::error(Code::Usage, "y").at(place), false);
    }
}
