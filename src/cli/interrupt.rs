#![allow(clippy::disallowed_methods, reason = "whoever asks twice for the end gets it")]

use plan::StopFlag;

/// The status that shells give to what Ctrl-C has ended.
const INTERRUPTED: i32 = 130;

/// Has Ctrl-C set the flag, and a second one end the program: nothing is ever half written.
pub(super) fn sets(flag: StopFlag) {
    // Where a signal can't be caught, it ends the program as it always did.
    let _ = ctrlc::set_handler(move || {
        if flag.is_set() {
            std::process::exit(INTERRUPTED);
        }
        flag.set();
    });
}
