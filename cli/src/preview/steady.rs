//! A thread that goes on when its work breaks off.

use crate::output;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// After a panic the work begins anew no sooner.
const REST: Duration = Duration::from_millis(200);

/// Does `work` over and over in a thread of its own, until it says that it is over. Where it panics, that is said,
/// `mended` puts right what it left, and it begins anew.
pub(super) fn go_on<S: Send + 'static>(
    what: &'static str,
    mut state: S,
    mut work: impl FnMut(&mut S) -> ControlFlow<()> + Send + 'static,
    mut mended: impl FnMut(&mut S) + Send + 'static,
) -> JoinHandle<()> {
    thread::spawn(move || {
        loop {
            match catch_unwind(AssertUnwindSafe(|| work(&mut state))) {
                Ok(ControlFlow::Continue(())) => {}
                Ok(ControlFlow::Break(())) => return,
                Err(_) => {
                    // What went wrong has been printed by then.
                    output::say(&format!(
                        "rushlight: {what} broke off, which is a fault of this program; it begins anew"
                    ));
                    let _ = catch_unwind(AssertUnwindSafe(|| mended(&mut state)));
                    thread::sleep(REST);
                }
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::channel;

    #[test]
    fn work_that_panics_begins_anew() {
        let (sender, receiver) = channel();
        let said = sender.clone();
        let work = move |turn: &mut u32| {
            *turn += 1;
            sender.send(format!("turn {turn}")).unwrap();
            assert!(*turn != 2, "as a fault would");
            if *turn < 4 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        };
        go_on("a test", 0, work, move |_| said.send("mended".to_owned()).unwrap()).join().unwrap();
        let all: Vec<String> = receiver.try_iter().collect();
        assert_eq!(all, ["turn 1", "turn 2", "mended", "turn 3", "turn 4"]);
    }
}
