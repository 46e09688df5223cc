use knit::program::{Piece, Program};

/// A piece's title; where several bear the same one, with its number: "second band".
pub(super) fn numbered_title(program: &Program, name: &str) -> String {
    const ORDINALS: [&str; 4] = ["first", "second", "third", "fourth"];
    let Some(piece) = program.pieces.iter().find(|p| p.name == name) else {
        return name.to_owned();
    };
    let title = piece.title.to_lowercase();
    let alike: Vec<&Piece> = program.pieces.iter().filter(|p| p.title == piece.title).collect();
    match alike.iter().position(|p| p.name == name) {
        Some(nth) if alike.len() > 1 && nth < ORDINALS.len() => {
            format!("{} {title}", ORDINALS[nth])
        }
        _ => title,
    }
}
