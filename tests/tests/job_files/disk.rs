//! Saving under bad conditions: killed in the middle, on a full disk, in a read-only folder.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use strikeoff_files::job::{open_job, previous_path, save_job};

use super::numbered;

/// Not a test of its own: saves until it is killed, for the test below.
#[test]
#[ignore = "run by saves_that_are_killed_leave_the_old_or_the_new_job"]
fn child_saves_until_it_is_killed() {
    let path = PathBuf::from(std::env::var_os("STRIKEOFF_TEST_JOB").unwrap());
    let files = [numbered(0), numbered(1)];
    // The parent's clock runs from here: on a busy machine the start takes its time.
    fs::write(std::env::var_os("STRIKEOFF_TEST_MARK").unwrap(), "saving").unwrap();
    for number in 0..1_000_000 {
        save_job(&path, &files[number % 2]).unwrap();
    }
}

#[test]
fn saves_that_are_killed_leave_the_old_or_the_new_job() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("lantern.strikeoff");
    let files = [numbered(0), numbered(1)];
    save_job(&path, &files[0]).unwrap();
    let started = Instant::now();
    for number in 0..4 {
        save_job(&path, &files[number % 2]).unwrap();
    }
    let a_save_us = (started.elapsed().as_micros() as u64 / 4).max(500);
    let mark = dir.path().with_extension("mark");
    let mut seen = [0; 2];
    let mut random = 0x2545_f491_4f6c_dd1d_u64;
    let mut left_aside = 0;
    for _ in 0..200 {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--ignored", "--exact", "disk::child_saves_until_it_is_killed"])
            .env("STRIKEOFF_TEST_JOB", &path)
            .env("STRIKEOFF_TEST_MARK", &mark)
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        let started = Instant::now();
        while !mark.exists() {
            assert!(started.elapsed() < Duration::from_secs(60), "the child does not start");
            std::thread::sleep(Duration::from_micros(200));
        }
        std::thread::sleep(Duration::from_micros(random % (4 * a_save_us)));
        // SIGKILL on Unix: nothing in the child gets to clean up.
        child.kill().unwrap();
        child.wait().unwrap();
        fs::remove_file(&mark).unwrap();
        let now = open_job(&path).unwrap();
        let which = files.iter().position(|f| *f == now).expect("a mixture of two jobs");
        seen[which] += 1;
        let previous = previous_path(&path);
        if previous.exists() {
            assert!(files.contains(&open_job(&previous).unwrap()));
        }
        left_aside += fs::read_dir(dir.path()).unwrap().count().saturating_sub(2);
    }
    // The kills came during saves, not before them: both jobs were met, and halves were left aside.
    assert!(seen[0] > 10 && seen[1] > 10, "{seen:?}");
    assert!(left_aside > 0);
    // A later save clears what the killed ones left, once it is old enough to belong to nobody.
    let long_ago = std::time::SystemTime::now() - Duration::from_secs(7200);
    for entry in fs::read_dir(dir.path()).unwrap().flatten() {
        if entry.file_name().to_string_lossy().starts_with('.') {
            fs::File::open(entry.path()).unwrap().set_modified(long_ago).unwrap();
        }
    }
    save_job(&path, &files[0]).unwrap();
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);
}

/// Not a test of its own: fills a small file system that the test below has mounted.
#[test]
#[ignore = "run by a_full_disk_keeps_the_old_job"]
fn child_saves_on_a_full_disk() {
    let folder = PathBuf::from(std::env::var_os("STRIKEOFF_TEST_FOLDER").unwrap());
    let path = folder.join("lantern.strikeoff");
    let small = numbered(0);
    save_job(&path, &small).unwrap();
    let mut large = numbered(1);
    // Does not compress, and is larger than the file system.
    large.art_bytes =
        (0..2_000_000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect::<Vec<u8>>().into();
    let error = save_job(&path, &large).unwrap_err().to_string();
    assert!(error.contains("cannot write") && error.contains("lantern.strikeoff"), "{error}");
    assert!(error.to_lowercase().contains("space"), "{error}");
    assert_eq!(open_job(&path).unwrap(), small);
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1, "nothing half written is left");
    // And with room again it works.
    save_job(&path, &numbered(2)).unwrap();
    assert_eq!(open_job(&previous_path(&path)).unwrap(), small);
}

/// Runs an ignored test of this file in a name space of its own (`unshare` of util-linux), after the
/// shell has mounted what it needs on the folder.
#[cfg(target_os = "linux")]
fn run_mounted(folder: &Path, mount: &str, child: &str) {
    let script = format!("{mount} || exit 77; exec \"$0\" --ignored --exact {child}");
    let done = Command::new("unshare")
        .args(["--map-root-user", "--mount", "sh", "-c", &script])
        .arg(std::env::current_exe().unwrap())
        .env("STRIKEOFF_TEST_FOLDER", folder)
        .output()
        .expect("this test needs unshare: apt-get install util-linux");
    assert_ne!(done.status.code(), Some(77), "this test must be allowed to mount in a user name space");
    let text = String::from_utf8_lossy(&done.stdout);
    assert!(done.status.success() && text.contains("1 passed"), "{text}{}", String::from_utf8_lossy(&done.stderr));
}

/// A file system of 1 MB.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_keeps_the_old_job() {
    let dir = tempfile::tempdir().unwrap();
    let mount = "mount -t tmpfs -o size=1m none \"$STRIKEOFF_TEST_FOLDER\"";
    run_mounted(dir.path(), mount, "disk::child_saves_on_a_full_disk");
}

/// Not a test of its own: works in a folder that the test below has made read-only.
#[test]
#[ignore = "run by a_read_only_folder_is_named"]
fn child_saves_in_a_read_only_folder() {
    let folder = PathBuf::from(std::env::var_os("STRIKEOFF_TEST_FOLDER").unwrap());
    let path = folder.join("lantern.strikeoff");
    let error = save_job(&path, &numbered(1)).unwrap_err().to_string();
    assert!(error.contains("cannot write") && error.contains("lantern.strikeoff"), "{error}");
    assert!(error.to_lowercase().contains("read-only"), "{error}");
    assert_eq!(open_job(&path).unwrap(), numbered(0));
}

/// Mounted read-only, so that it holds for root too.
#[cfg(target_os = "linux")]
#[test]
fn a_read_only_folder_is_named() {
    let dir = tempfile::tempdir().unwrap();
    save_job(&dir.path().join("lantern.strikeoff"), &numbered(0)).unwrap();
    let mount = "mount --bind \"$STRIKEOFF_TEST_FOLDER\" \"$STRIKEOFF_TEST_FOLDER\" \
                 && mount -o remount,ro,bind \"$STRIKEOFF_TEST_FOLDER\"";
    run_mounted(dir.path(), mount, "disk::child_saves_in_a_read_only_folder");
}
