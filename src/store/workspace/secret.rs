use std::fs;
use std::io::{Read, Write};

use super::folder::{Folder, OWN};
use super::lock::make_own;
use crate::files::open_regular;

const SECRET: &str = ".oddments/secret";
/// Hexadecimal digits of a secret.
const DIGITS: usize = 32;

impl Folder {
    /// The workspace's own secret, which outlives a server and is the same for all that serve it:
    /// the one that is kept, else `fresh` (32 hexadecimal digits), kept from now on where the folder
    /// can be written to. Whoever owns the folder can read it, nobody else.
    pub fn secret(&self, fresh: String) -> String {
        if let Some(kept) = self.kept_secret() {
            return kept;
        }
        let keep = || -> Option<()> {
            make_own(self).ok()?;
            let target = self.target(SECRET).ok()?;
            let mut file = tempfile::NamedTempFile::new_in(self.path(OWN)).ok()?;
            file.write_all(fresh.as_bytes()).ok()?;
            // Where another server was quicker, its secret stands.
            file.persist_noclobber(target).ok().map(drop)
        };
        keep();
        self.kept_secret().unwrap_or(fresh)
    }

    fn kept_secret(&self) -> Option<String> {
        let mut text = String::new();
        let file: fs::File = open_regular(&self.path(SECRET)).ok()?;
        file.take(DIGITS as u64 + 1).read_to_string(&mut text).ok()?;
        let sound = text.len() == DIGITS && text.bytes().all(|b| b.is_ascii_hexdigit());
        sound.then_some(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_stays_what_it_was_and_a_broken_one_is_not_used() {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join("oddments.toml"), "").expect("written");
        let folder = Folder::find(Some(folder.path())).expect("found").expect("there");
        let (one, two) = ("a".repeat(DIGITS), "b".repeat(DIGITS));
        assert_eq!(folder.secret(one.clone()), one);
        assert_eq!(folder.secret(two.clone()), one, "another server has the same");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = fs::metadata(folder.path(SECRET)).expect("there").permissions().mode();
            assert_eq!(mode & 0o077, 0, "others can read it");
        }
        for broken in ["", "abc", &"x".repeat(DIGITS), &"a".repeat(99)] {
            fs::write(folder.path(SECRET), broken).expect("written");
            assert_eq!(folder.secret(two.clone()), two, "{broken}");
        }
    }
}
