//! SetWords to lines of a width. Points throughout.

use crate::drawing::{Weight, text_width};
use diag::is_control;

/// SetWords of one weight that stand together on a line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SetWords {
    pub x: f64,
    pub text: String,
    pub weight: Weight,
}

/// Sets the texts one after another, breaking at blanks; a word wider than the line is broken
/// where the line ends. There is always a line.
pub(super) fn lines(texts: &[(&str, Weight)], size: f64, width: f64) -> Vec<Vec<SetWords>> {
    let mut setter = LineSetter { size, width, done: Vec::new(), line: Vec::new(), x: 0.0 };
    for (text, weight) in texts {
        for word in text.split_whitespace() {
            let word = word.replace(is_control, "\u{fffd}");
            setter.word(&word, *weight);
        }
    }
    setter.end_line();
    if setter.done.is_empty() {
        setter.done.push(Vec::new());
    }
    setter.done
}

/// On one line, without what drives a reader's cursor about.
pub(super) fn plain(text: &str) -> String {
    text.replace('\n', " ").replace(is_control, "\u{fffd}")
}

/// Cuts a text to the width, with an ellipsis where something is lost.
pub(super) fn cut(text: &str, size: f64, weight: Weight, width: f64) -> String {
    let text = plain(text);
    if text_width(&text, size, weight) <= width {
        return text;
    }
    let mut kept = String::new();
    for c in text.chars() {
        kept.push(c);
        if text_width(&kept, size, weight) + text_width("…", size, weight) > width {
            kept.pop();
            break;
        }
    }
    format!("{}…", kept.trim_end())
}

struct LineSetter {
    size: f64,
    width: f64,
    done: Vec<Vec<SetWords>>,
    line: Vec<SetWords>,
    x: f64,
}

impl LineSetter {
    fn word(&mut self, word: &str, weight: Weight) {
        let wide = text_width(word, self.size, weight);
        let blank = text_width(" ", self.size, weight);
        if !self.line.is_empty() && self.x + blank + wide > self.width {
            self.end_line();
        }
        if wide <= self.width {
            self.put(word, weight, wide);
            return;
        }
        let mut part = String::new();
        for c in word.chars() {
            part.push(c);
            if part.chars().count() > 1 && text_width(&part, self.size, weight) > self.width {
                part.pop();
                self.put(&part, weight, text_width(&part, self.size, weight));
                self.end_line();
                part = c.to_string();
            }
        }
        self.put(&part, weight, text_width(&part, self.size, weight));
    }

    fn put(&mut self, word: &str, weight: Weight, wide: f64) {
        let blank = text_width(" ", self.size, weight);
        match self.line.last_mut() {
            Some(last) if last.weight == weight => {
                last.text.push(' ');
                last.text.push_str(word);
                self.x += blank + wide;
            }
            last => {
                if let Some(last) = last {
                    last.text.push(' ');
                    self.x += blank;
                }
                self.line.push(SetWords { x: self.x, text: word.to_owned(), weight });
                self.x += wide;
            }
        }
    }

    fn end_line(&mut self) {
        if !self.line.is_empty() {
            self.done.push(std::mem::take(&mut self.line));
        }
        self.x = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_all_words_and_the_width() {
        let text = "Push the end needle on the left to holding position, hold lever on: R25.";
        let all = [("RC 034 COR:", Weight::Bold), (text, Weight::Regular)];
        let set = lines(&all, 10.5, 120.0);
        assert!(set.len() > 2);
        let mut told = Vec::new();
        for line in &set {
            for words in line {
                assert!(words.x + text_width(&words.text, 10.5, words.weight) <= 123.0);
                told.extend(words.text.split_whitespace().map(str::to_owned));
            }
        }
        assert_eq!(told.join(" "), format!("RC 034 COR: {text}"));
    }

    #[test]
    fn a_word_wider_than_the_line_is_broken_and_nothing_is_lost() {
        let word = "W".repeat(80);
        let set = lines(&[("a", Weight::Regular), (&word, Weight::Regular)], 10.0, 90.0);
        let joined: String = set.iter().flatten().map(|w| w.text.as_str()).collect();
        assert_eq!(joined, format!("a{word}"));
        let widest =
            set.iter().flatten().map(|w| text_width(&w.text, 10.0, w.weight)).fold(0.0, f64::max);
        assert!(widest <= 90.0, "{widest}");
    }

    #[test]
    fn running_heads_are_cut() {
        assert_eq!(cut("short", 8.0, Weight::Regular, 100.0), "short");
        let long = cut(&"long ".repeat(60), 8.0, Weight::Regular, 100.0);
        assert!(long.ends_with('…') && text_width(&long, 8.0, Weight::Regular) <= 100.0);
    }
}
