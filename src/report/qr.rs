//! An address as a QR code (ISO/IEC 18004), for the camera of a phone.

use diag::{Code, Diagnostic};
use fast_qr::{ECL, QRBuilder, QRCode};

/// Blank modules round it, without which no camera finds it (ISO/IEC 18004).
const QUIET: usize = 4;

/// The code as modules, row by row, the quiet zone included: dark or not.
///
/// # Errors
/// A text that is too long for one.
pub fn qr_modules(text: &str) -> Result<Vec<Vec<bool>>, Diagnostic> {
    let code: QRCode = QRBuilder::new(text).ecl(ECL::M).build().map_err(|_| {
        Diagnostic::error(Code::Internal, "the address is too long for a QR code")
            .hint("type it into the phone's browser")
    })?;
    let side = code.size + 2 * QUIET;
    let dark = |row: usize, column: usize| {
        let inside = |at: usize| at.checked_sub(QUIET).filter(|at| *at < code.size);
        match (inside(row), inside(column)) {
            (Some(row), Some(column)) => code[row][column].value(),
            _ => false,
        }
    };
    Ok((0..side).map(|row| (0..side).map(|column| dark(row, column)).collect()).collect())
}

/// The code as text for a terminal of light letters on dark: two rows of modules a line.
///
/// # Errors
/// As [`qr_modules`].
pub fn qr_text(text: &str) -> Result<String, Diagnostic> {
    let modules = qr_modules(text)?;
    let blank = vec![false; modules.len()];
    let line = |rows: &[Vec<bool>]| {
        let below = rows.get(1).unwrap_or(&blank);
        let letter = |(upper, lower): (&bool, &bool)| match (upper, lower) {
            (false, false) => '█',
            (false, true) => '▀',
            (true, false) => '▄',
            (true, true) => ' ',
        };
        let mut line: String = rows[0].iter().zip(below).map(letter).collect();
        line.push('\n');
        line
    };
    Ok(modules.chunks(2).map(line).collect())
}

/// The dark modules as the path of an SVG, and the side of its square in modules.
///
/// # Errors
/// As [`qr_modules`].
pub fn qr_path(text: &str) -> Result<(String, usize), Diagnostic> {
    let modules = qr_modules(text)?;
    let mut path = String::new();
    for (y, row) in modules.iter().enumerate() {
        for (x, _) in row.iter().enumerate().filter(|(_, dark)| **dark) {
            path.push_str(&format!("M{x} {y}h1v1h-1z"));
        }
    }
    Ok((path, modules.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_and_path_are_of_the_same_modules() {
        let address = "http://192.0.2.7:8017/login#token=kittiwake";
        let modules = qr_modules(address).expect("fits");
        let dark = modules.iter().flatten().filter(|dark| **dark).count();
        let (path, side) = qr_path(address).expect("fits");
        assert_eq!(path.matches('M').count(), dark);
        assert_eq!(side, modules.len());
        let text = qr_text(address).expect("fits");
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), side.div_ceil(2));
        assert!(lines.iter().all(|line| line.chars().count() == side));
        let light = |c: char| match c {
            '█' => 2,
            '▀' | '▄' => 1,
            _ => 0,
        };
        let lit: usize = text.chars().map(light).sum();
        // An odd side leaves half a line of blank modules below.
        assert_eq!(lit, side * side - dark + side * (side % 2));
        assert!(qr_modules(&"x".repeat(10_000)).is_err());
    }
}
