//! Sets that are stopped before each change of the disk, or that meet an error there: what lies in
//! the folder afterwards is the old set or the new one, as a whole.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{Duration, SystemTime};

use serde_json::json;

use super::look::{look_with, unfinished};
use super::names::{PREFIX, own_name};
use super::set::FileSet;
use super::steps::Steps;
use super::{WriteError, look, sweep, verify};

/// Lets so many changes be made; the next fails, and of those after it all from a number on.
struct Stop {
    left: AtomicI64,
    /// How many more are made after the one that fails before all fail.
    then: i64,
}

impl Stop {
    /// A program that is killed before change number `after`.
    fn dead(after: i64) -> Arc<dyn Steps> {
        Arc::new(Self { left: AtomicI64::new(after), then: 0 })
    }

    /// A program that nobody stops.
    fn never() -> Arc<dyn Steps> {
        Self::once(i64::MAX)
    }

    /// A disk that fails once.
    fn once(after: i64) -> Arc<dyn Steps> {
        Arc::new(Self { left: AtomicI64::new(after), then: i64::MAX })
    }
}

impl Steps for Stop {
    fn next(&self) -> io::Result<()> {
        let left = self.left.fetch_sub(1, Ordering::Relaxed);
        let made = left > 0 || (left < 0 && -left <= self.then);
        if made { Ok(()) } else { Err(io::Error::other("stopped")) }
    }

    fn is_durable(&self) -> bool {
        false
    }
}

type Contents = BTreeMap<String, Vec<u8>>;

/// All files under a folder but hidden ones.
fn contents(folder: &Path) -> Contents {
    fn walk(folder: &Path, inside: &str, all: &mut Contents) {
        for entry in fs::read_dir(folder).unwrap().flatten() {
            let name = entry.file_name().into_string().unwrap();
            if name.starts_with('.') {
                continue;
            }
            let path = format!("{inside}{name}");
            if entry.path().is_dir() {
                walk(&entry.path(), &format!("{path}/"), all);
            } else {
                all.insert(path, fs::read(entry.path()).unwrap_or_default());
            }
        }
    }
    let mut all = Contents::new();
    walk(folder, "", &mut all);
    all
}

/// Hidden files under a folder.
fn hidden(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).unwrap().flatten() {
        if entry.file_name().to_string_lossy().starts_with('.') {
            all.push(entry.path());
        } else if entry.path().is_dir() {
            all.extend(hidden(&entry.path()));
        }
    }
    all
}

fn make(folder: &Path, files: &[(&str, &str)], steps: Arc<dyn Steps>) -> Result<Vec<String>, WriteError> {
    let mut set = FileSet::begin_with(folder, "film set", &[], steps)?;
    set.check(files.iter().map(|(name, _)| *name))?;
    for (name, text) in files {
        set.stage(name)?.bytes(text.as_bytes())?;
    }
    set.manifest("films.json", &json!({ "count": files.len() }))?;
    Ok(set.put_in_place()?.1)
}

const OLD: [(&str, &str); 3] = [("1.tif", "old one"), ("2.tif", "old two"), ("3.tif", "old three")];
/// One file is replaced, one through a link, one comes in a folder of its own, and one goes.
const NEW: [(&str, &str); 3] = [("1.tif", "new one"), ("3.tif", "new three"), ("more/4.png", "new four")];

/// A folder of films, one of them a link to a server, with a file of somebody else's beside.
struct Shop {
    dir: tempfile::TempDir,
}

impl Shop {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let shop = Self { dir };
        fs::create_dir(shop.server()).unwrap();
        fs::create_dir(shop.films()).unwrap();
        #[cfg(unix)]
        std::os::unix::fs::symlink("../server/third.tif", shop.films().join("3.tif")).unwrap();
        fs::write(shop.films().join("2-other.tif"), "not ours").unwrap();
        make(&shop.films(), &OLD, Stop::never()).unwrap();
        shop
    }

    fn films(&self) -> PathBuf {
        self.dir.path().join("films")
    }

    fn server(&self) -> PathBuf {
        self.dir.path().join("server")
    }

    /// The films are the old or the new set, and nothing hidden stays for good: true if new.
    fn is_new(&self, states: &[Contents; 2], what: &str) -> bool {
        let now = contents(&self.films());
        let new = states.iter().position(|state| *state == now);
        let new = new.unwrap_or_else(|| panic!("{what}: a mixture: {:?}", now.keys()));
        let state = verify(&self.films()).unwrap();
        assert_eq!((state.whole.len(), state.wrong.len()), (3, 0), "{what}");
        assert_eq!(fs::symlink_metadata(self.films().join("3.tif")).unwrap().is_symlink(), cfg!(unix), "{what}");
        // What the killed program left goes when it is old enough to belong to nobody.
        for path in hidden(self.dir.path()) {
            fs::File::open(path).unwrap().set_modified(SystemTime::now() - Duration::from_secs(120)).unwrap();
        }
        sweep(&self.films());
        assert_eq!(hidden(self.dir.path()), Vec::<PathBuf>::new(), "{what}");
        new == 1
    }
}

fn states() -> [Contents; 2] {
    let shop = Shop::new();
    let old = contents(&shop.films());
    assert_eq!(make(&shop.films(), &NEW, Stop::never()).unwrap(), Vec::<String>::new());
    let new = contents(&shop.films());
    assert!(!new.contains_key("2.tif") && new.contains_key("2-other.tif") && new.contains_key("more/4.png"));
    #[cfg(unix)]
    assert_eq!(fs::read(shop.server().join("third.tif")).unwrap(), b"new three");
    [old, new]
}

#[test]
fn a_set_killed_before_any_change_is_old_or_new_after_the_next_look() {
    let states = states();
    let mut seen = [0, 0];
    let mut halves = 0;
    for after in 0.. {
        let shop = Shop::new();
        let whole = make(&shop.films(), &NEW, Stop::dead(after)).is_ok();
        let half = unfinished(&shop.films()).len();
        let said = look(&shop.films()).unwrap();
        assert_eq!(said.len(), half, "{said:?}");
        halves += half;
        assert!(said.iter().all(|said| said.contains("film set") && said.contains("stopped half way")), "{said:?}");
        seen[usize::from(shop.is_new(&states, &format!("killed before change {after}")))] += 1;
        if whole && half == 0 {
            break;
        }
    }
    // Making it takes a dozen changes and putting it in place as many again.
    assert!(seen[0] > 10 && seen[1] > 5 && halves > 8, "{seen:?} {halves}");
}

#[test]
fn a_look_that_is_killed_too_is_taken_up_by_the_next() {
    let states = states();
    let mut again = 0;
    for after in 0.. {
        for then in [0, 1, 2, 3, 5, 8] {
            let shop = Shop::new();
            let whole = make(&shop.films(), &NEW, Stop::dead(after)).is_ok();
            if unfinished(&shop.films()).is_empty() {
                if whole {
                    assert!(again > 10, "{again}");
                    return;
                }
                break;
            }
            let root = fs::canonicalize(shop.films()).unwrap();
            let _ = look_with(&root, &Stop::dead(then));
            again += unfinished(&root).len();
            look(&root).unwrap();
            assert!(shop.is_new(&states, &format!("killed before change {after}, looked at until {then}")));
        }
    }
}

#[test]
fn an_error_at_any_change_puts_the_old_set_back_at_once() {
    let states = states();
    let mut failed = 0;
    for after in 0.. {
        let shop = Shop::new();
        let steps = Stop::once(after);
        let made = make(&shop.films(), &NEW, steps);
        failed += i32::from(made.is_err());
        let now = contents(&shop.films());
        assert_eq!(now, states[usize::from(made.is_ok())], "an error at change {after}");
        assert!(unfinished(&shop.films()).is_empty() || made.is_ok(), "an error at change {after}");
        let left = hidden(shop.dir.path()).len();
        assert!(left == 0 || made.is_ok(), "an error at change {after} leaves {left} files");
        look(&shop.films()).unwrap();
        shop.is_new(&states, &format!("an error at change {after}"));
        if made.is_ok() && left == 0 {
            break;
        }
    }
    assert!(failed > 18, "{failed}");
}

#[test]
fn going_back_that_is_killed_is_taken_up_by_the_next_look() {
    let states = states();
    let mut half = 0;
    for after in 8..45 {
        for then in 1..9 {
            let shop = Shop::new();
            let stop = Stop { left: AtomicI64::new(after), then };
            let made = make(&shop.films(), &NEW, Arc::new(stop));
            let back = fs::read_dir(shop.films())
                .unwrap()
                .flatten()
                .any(|e| e.path().extension().is_some_and(|e| e == "back"));
            half += i32::from(back);
            let said = look(&shop.films()).unwrap();
            assert!(!back || said[0].contains("taken back"), "{said:?}");
            let new = shop.is_new(&states, &format!("an error at change {after}, killed {then} later"));
            assert!(!(back && new) && (new || made.is_err()));
        }
    }
    assert!(half > 10, "{half}");
}

#[test]
fn all_that_is_in_the_way_is_said_before_anything_is_touched() {
    let shop = Shop::new();
    let films = shop.films();
    let before = contents(&films);
    fs::remove_file(films.join("1.tif")).unwrap();
    fs::create_dir(films.join("1.tif")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("no/such/folder/a", films.join("5.tif")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("../server/third.tif", films.join("6.tif")).unwrap();
    let error = make(&films, &[NEW[0], NEW[1], ("5.tif", "five"), ("6.tif", "six")], Stop::never());
    let said = error.unwrap_err().to_string();
    assert!(said.starts_with("nothing was written, because 3 files"), "{said}");
    for part in ["1.tif: it is a folder", "5.tif: it is a link to", "6.tif: it is a link to the same file as 3.tif"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    fs::remove_dir(films.join("1.tif")).unwrap();
    fs::write(films.join("1.tif"), "old one").unwrap();
    fs::remove_file(films.join("5.tif")).unwrap();
    fs::remove_file(films.join("6.tif")).unwrap();
    assert_eq!(contents(&films), before);
    assert!(hidden(shop.dir.path()).is_empty());
    // What the set is made from is not replaced.
    let keep = [films.join("1.tif")];
    let set = FileSet::begin(&films, "film set", &keep).unwrap();
    let said = set.check(["1.tif"]).unwrap_err().to_string();
    assert!(said.contains("which the set is made from"), "{said}");
}

#[test]
fn a_set_that_is_given_up_leaves_no_folder() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("a/b/films");
    let mut set = FileSet::begin(&folder, "film set", &[]).unwrap();
    set.stage("more/1.tif").unwrap().bytes(b"one").unwrap();
    drop(set);
    assert!(!dir.path().join("a").exists());
    let file = dir.path().join("file");
    fs::write(&file, "").unwrap();
    let said = FileSet::begin(&file, "film set", &[]).err().unwrap().to_string();
    assert!(said.contains("it is a file, and the set needs a folder"), "{said}");
}

#[test]
fn sets_at_the_same_time_come_one_after_the_other() {
    let dir = tempfile::tempdir().unwrap();
    let films = dir.path().join("films");
    let of = |letter: &str| (1..=4).map(|n| (format!("{n}.tif"), letter.repeat(n))).collect::<Vec<_>>();
    std::thread::scope(|scope| {
        for letter in ["a", "b", "c"] {
            let films = &films;
            scope.spawn(move || {
                for _ in 0..10 {
                    let files = of(letter);
                    let files: Vec<_> = files.iter().map(|(n, t)| (n.as_str(), t.as_str())).collect();
                    make(films, &files, Stop::never()).unwrap();
                    assert_eq!(look(films).unwrap(), Vec::<String>::new(), "a set that is under way is left alone");
                }
            });
        }
    });
    let state = verify(&films).unwrap();
    assert_eq!((state.whole.len(), state.wrong.len()), (4, 0), "{state:?}");
    assert!(hidden(&films).is_empty());
}

#[test]
fn a_file_that_was_put_in_the_way_since_is_not_lost() {
    let states = states();
    // Just after the first film was set aside.
    for after in 0.. {
        let shop = Shop::new();
        let _ = make(&shop.films(), &NEW, Stop::dead(after));
        let films = shop.films();
        if unfinished(&films).is_empty() || films.join("1.tif").exists() {
            continue;
        }
        fs::write(films.join("1.tif"), "from elsewhere").unwrap();
        let said = look(&films).unwrap_err().to_string();
        assert!(said.contains("1.tif was put there since") && said.contains("move it away"), "{said}");
        assert_eq!(fs::read(films.join("1.tif")).unwrap(), b"from elsewhere");
        fs::remove_file(films.join("1.tif")).unwrap();
        look(&films).unwrap();
        assert!(shop.is_new(&states, "after the file was moved away"));
        return;
    }
}

#[test]
fn a_journal_from_elsewhere_reaches_no_file_outside_its_folder() {
    let dir = tempfile::tempdir().unwrap();
    let (inside, outside) = (dir.path().join("films"), dir.path().join("precious"));
    fs::create_dir(&inside).unwrap();
    fs::create_dir(&outside).unwrap();
    fs::write(outside.join("a"), "precious").unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("../precious/a", inside.join("link")).unwrap();
    let entry = |name: &str, comes: bool| json!({ "name": name, "number": 0, "comes": comes, "was_there": false, "last": false });
    for ending in ["going", "back"] {
        for (name, comes) in [("../precious/a", false), ("../precious/a", true), ("link", true), ("link", false)] {
            let journal = inside.join(format!("{}x.{ending}", own_name()));
            let line = |line: serde_json::Value| format!("{line}\n");
            let text = line(json!({ "set": { "what": "film set", "made_above": 0 } }))
                + &line(json!({ "entries": [entry(name, comes)] }));
            fs::write(&journal, text).unwrap();
            let _ = look(&inside);
            assert_eq!(fs::read(outside.join("a")).unwrap(), b"precious", "{ending} {name} {comes}");
            assert_eq!(fs::read_dir(&outside).unwrap().count(), 1);
            let _ = fs::remove_file(journal);
        }
    }
    assert!(PREFIX.starts_with('.'));
}
