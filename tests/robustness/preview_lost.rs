//! `preview`: no sequence of edits, saves, files replaced, looks renamed, moved or taken out of the show, kills and restarts
//! loses an edit. What must be there is given by a model: an edit that was answered is there until the user saves it, undoes it,
//! takes the file's or lets it go.
//!
//! 20 s of random sequences; as many as `RUSHLIGHT_EDITS_SECONDS` says.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestCaseError, TestError, TestRunner};
use rushlight_tests::scene::{CURVE, NIGHT, SHOW, put};
use rushlight_tests::server::{Answer, Server};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Sequences at once: most of their time is waiting for a server that looks after its files.
const AT_ONCE: usize = 6;

/// What a user, or git, or chance does.
#[derive(Debug, Clone)]
enum Act {
    Edit(usize),
    Save(usize, bool),
    Undo(usize),
    Revert(usize),
    Take(usize),
    LetGo(usize),
    /// Another text in the place of a look's.
    Checkout(usize),
    /// Another name of a look in the show.
    Rename(usize),
    /// Another name of its file.
    Move(usize),
    Leave(usize),
    Back(usize),
    /// A look's file is gone.
    Vanish(usize),
    Wait(u64),
    Kill,
    /// The folder of the show gets another name while no server runs.
    MoveAll,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let of = || 0..4_usize;
    let act = prop_oneof![
        5 => of().prop_map(Act::Edit),
        1 => (of(), any::<bool>()).prop_map(|(look, anyway)| Act::Save(look, anyway)),
        1 => of().prop_map(Act::Undo),
        1 => of().prop_map(Act::Revert),
        1 => of().prop_map(Act::Take),
        1 => of().prop_map(Act::LetGo),
        2 => of().prop_map(Act::Checkout),
        1 => of().prop_map(Act::Rename),
        1 => of().prop_map(Act::Move),
        2 => of().prop_map(Act::Leave),
        2 => of().prop_map(Act::Back),
        1 => of().prop_map(Act::Vanish),
        3 => prop_oneof![Just(100), Just(600), Just(1300)].prop_map(Act::Wait),
        1 => Just(Act::Kill),
        1 => Just(Act::MoveAll),
    ];
    prop::collection::vec(act, 6..16)
}

/// A look on the disk.
#[derive(Debug)]
struct Look {
    key: String,
    file: String,
    is_in_show: bool,
}

struct World {
    dir: TempDir,
    folder: String,
    looks: Vec<Look>,
    server: Option<Server>,
    /// Stops of edits that must be there: each edit has its own.
    edits: BTreeSet<i64>,
    /// Rises with every value and name.
    count: i64,
}

/// Stops as a whole number of thousandths.
fn thousandths(value: &Value) -> Option<i64> {
    value.as_f64().map(|v| (v * 1000.0).round() as i64)
}

fn value(look: &Value) -> Option<i64> {
    thousandths(&look["steps"][1]["values"]["stops"])
}

impl World {
    fn new() -> Self {
        let look = |name: &str| Look { key: name.to_owned(), file: format!("looks/{name}.toml"), is_in_show: true };
        let dir = TempDir::new().expect("a folder");
        let looks = ["night", "dusk"].map(look).into();
        let mut world = Self { dir, folder: "show0".to_owned(), looks, server: None, edits: BTreeSet::new(), count: 0 };
        world.put("curves/heron.toml", CURVE);
        for at in 0..2 {
            world.checkout(at);
        }
        world.write_show();
        world.start();
        world
    }

    fn put(&self, name: &str, text: &str) {
        // As git does it: another file in the place of the old.
        let path = self.dir.path().join(&self.folder).join(name);
        let _ = fs::remove_file(path);
        put(&self.dir.path().join(&self.folder), name, text);
    }

    fn next(&mut self) -> i64 {
        self.count += 1;
        self.count
    }

    fn checkout(&mut self, at: usize) {
        let stops = 2000 + self.next();
        let text = NIGHT.replace("-1.0", &format!("{}", stops as f64 / 1000.0));
        self.put(&self.looks[at].file.clone(), &text);
    }

    fn write_show(&self) {
        let in_show = self.looks.iter().filter(|l| l.is_in_show);
        let looks: String = in_show.map(|l| format!("{} = \"{}\"\n", l.key, l.file)).collect();
        let (head, rest) = SHOW.split_once("[looks]\n").expect("looks");
        let (_, bake) = rest.split_once("\n\n").expect("more");
        self.put("show.toml", &format!("{head}[looks]\n{looks}\n{bake}"));
    }

    fn start(&mut self) {
        // A server starts on a show that can be read.
        for at in 0..self.looks.len() {
            if !self.dir.path().join(&self.folder).join(&self.looks[at].file).exists() {
                self.checkout(at);
            }
        }
        let state = self.dir.path().join("state");
        let dir = self.dir.path().join(&self.folder);
        self.server = Some(Server::start_with(&dir, "show.toml", &[("XDG_STATE_HOME", state.as_os_str())]));
    }

    fn server(&self) -> &Server {
        self.server.as_ref().expect("it runs")
    }

    /// The looks of the page.
    fn shown(&self) -> Vec<String> {
        let state = self.server().get("state").good();
        state["looks"]
            .as_array()
            .expect("looks")
            .iter()
            .map(|l| l["name"].as_str().expect("a name").to_owned())
            .collect()
    }

    fn address(name: &str) -> String {
        format!("looks/{}", name.replace(' ', "%20"))
    }

    fn look(&self, name: &str) -> Option<Value> {
        let answer = self.server().get(&Self::address(name));
        (answer.status == 200).then(|| answer.json())
    }

    /// Asks for something upon the newest version; what the look was before, and the answer if it was a good one.
    fn ask(&self, name: &str, what: &str, question: &Value) -> Option<(Value, Value)> {
        for _ in 0..5 {
            let before = self.look(name)?;
            let mut question = question.clone();
            question["version"] = before["version"].clone();
            let answer: Answer = self.server().post(&format!("{}/{what}", Self::address(name)), &question);
            match answer.status {
                200 => return Some((before, answer.json())),
                409 if answer.json()["look"] != Value::Null => {}
                _ => return None,
            }
        }
        None
    }

    /// The user has said so.
    fn gone(&mut self, stops: Option<i64>) {
        if let Some(stops) = stops {
            self.edits.remove(&stops);
        }
    }

    fn act(&mut self, act: &Act) {
        let shown = self.shown();
        let name = |at: usize| shown[at % shown.len()].clone();
        let edit = |world: &Self, at: usize, op: &str| world.ask(&name(at), "edit", &json!({ "op": op }));
        match *act {
            Act::Edit(at) => {
                let stops = self.next();
                let set = json!({ "op": "set", "step": 1, "key": "stops", "value": stops as f64 / 1000.0 });
                if let Some((before, _)) = self.ask(&name(at), "edit", &set) {
                    self.gone(value(&before));
                    self.edits.insert(stops);
                }
            }
            Act::Save(at, anyway) => {
                let saved = self.ask(&name(at), "save", &json!({ "note": "", "anyway": anyway }));
                self.gone(saved.and_then(|(_, now)| value(&now)));
            }
            Act::Undo(at) => {
                if let Some((before, now)) = edit(self, at, "undo") {
                    self.gone(value(&before));
                    if now["unsaved"] == true {
                        self.edits.extend(value(&now));
                    }
                }
            }
            // What was edited before is undone with it: the user has said so.
            Act::Revert(at) => {
                let done = edit(self, at, "revert");
                self.gone(done.and_then(|(before, _)| value(&before)));
            }
            Act::Take(at) => {
                if let Some((before, now)) = edit(self, at, "take_left")
                    && before["left"] != Value::Null
                {
                    // Where the file is gone, an undo has brought what was left into view already.
                    if value(&before) != value(&now) {
                        self.gone(value(&before));
                    }
                    assert!(value(&now).is_some_and(|v| self.edits.contains(&v)), "offered what was not left: {now}");
                }
            }
            Act::LetGo(at) => {
                let Some(before) = self.look(&name(at)) else { return };
                // Where the file is gone, every step is a change: `exposure added as step 2: 0.003 stops`.
                let stops = |words: &Value| {
                    let (_, number) =
                        words.as_str()?.strip_prefix("exposure")?.strip_suffix(" stops")?.rsplit_once(' ')?;
                    number.parse::<f64>().ok()
                };
                let number = before["left"]["changes"].as_array().into_iter().flatten().find_map(stops);
                if let (Some(number), Some(_)) = (number, edit(self, at, "drop_left")) {
                    self.edits.remove(&((number * 1000.0).round() as i64));
                }
            }
            Act::Checkout(at) => self.checkout(at % 2),
            Act::Rename(at) => {
                self.looks[at % 2].key = format!("look{}", self.next());
                self.write_show();
            }
            Act::Move(at) => {
                let old = self.looks[at % 2].file.clone();
                let new = format!("looks/file{}.toml", self.next());
                let dir = self.dir.path().join(&self.folder);
                if fs::rename(dir.join(old), dir.join(&new)).is_ok() {
                    self.looks[at % 2].file = new;
                    self.write_show();
                }
            }
            Act::Leave(at) => {
                self.looks[at % 2].is_in_show = false;
                self.looks[(at + 1) % 2].is_in_show = true;
                self.write_show();
            }
            Act::Back(at) => {
                self.looks[at % 2].is_in_show = true;
                self.write_show();
            }
            Act::Vanish(at) => {
                let _ = fs::remove_file(self.dir.path().join(&self.folder).join(&self.looks[at % 2].file));
            }
            Act::Wait(millis) => std::thread::sleep(Duration::from_millis(millis)),
            Act::Kill => {
                self.server = None;
                self.start();
            }
            Act::MoveAll => {
                self.server = None;
                let new = format!("show{}", self.next());
                fs::rename(self.dir.path().join(&self.folder), self.dir.path().join(&new)).expect("it is moved");
                self.folder = new;
                self.start();
            }
        }
    }

    /// Every edit that a user can get at, in this server and in those that come after it.
    fn found(&mut self) -> BTreeSet<i64> {
        let mut found = BTreeSet::new();
        for _ in 0..30 {
            let mut more = false;
            for name in self.shown() {
                let Some(look) = self.look(&name) else { continue };
                if look["unsaved"] == true {
                    found.extend(value(&look));
                    more |= self.ask(&name, "edit", &json!({ "op": "revert" })).is_some();
                }
                while self.look(&name).is_some_and(|look| look["left"] != Value::Null) {
                    let Some((_, taken)) = self.ask(&name, "edit", &json!({ "op": "take_left" })) else { break };
                    found.extend(value(&taken));
                    self.ask(&name, "edit", &json!({ "op": "revert" }));
                    more = true;
                }
            }
            if !more {
                return found;
            }
            self.act(&Act::Kill);
        }
        found
    }
}

fn nothing_is_lost(acts: &[Act]) -> Result<(), TestCaseError> {
    let mut world = World::new();
    for (n, act) in acts.iter().enumerate() {
        world.act(act);
        // Nothing that is asked for is an answer that never comes.
        prop_assert!(!world.shown().is_empty(), "after {n}");
    }
    let wanted = world.edits.clone();
    let found = world.found();
    prop_assert!(wanted.is_subset(&found), "{wanted:?} must be there, {found:?} can be found");
    Ok(())
}

#[test]
fn no_edit_is_ever_lost() {
    let seconds = std::env::var("RUSHLIGHT_EDITS_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(20);
    let by = Instant::now() + Duration::from_secs(seconds);
    let run = || {
        let mut sequences = 0;
        while Instant::now() < by {
            let config = Config { cases: 1, max_shrink_iters: 20, failure_persistence: None, ..Config::default() };
            // Another for each: one counts what it has run.
            let mut runner = TestRunner::new(config);
            match runner.run(&acts(), |acts| nothing_is_lost(&acts)) {
                Ok(()) => sequences += 1,
                Err(TestError::Fail(why, acts)) => panic!("{why}\n{acts:#?}"),
                Err(why) => panic!("{why}"),
            }
        }
        sequences
    };
    let sequences: usize = std::thread::scope(|scope| {
        let all: Vec<_> = (0..AT_ONCE).map(|_| scope.spawn(run)).collect();
        all.into_iter().map(|one| one.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))).sum()
    });
    println!("{sequences} sequences");
    assert!(sequences > 0);
}
