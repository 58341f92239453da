//! Programs that are killed, disks that are full, folders that cannot be written: what was there stays whole.

use super::{check, hatchwright, small_job};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const JOB: &str = "demo-jobs/coupon.ron";
const OUT: &str = "small.hwv";

fn write_command(folder: &Path, out: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_hatchwright"));
    command.current_dir(folder).args(["write", JOB, "-o", out]);
    command.stdout(Stdio::null()).stderr(Stdio::null());
    command
}

fn parts_left(folder: &Path) -> usize {
    let names = fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name());
    names.filter(|name| name.to_string_lossy().ends_with(".part")).count()
}

/// How many kills: 200 takes minutes, a few hold the promise day by day.
fn kills() -> u32 {
    std::env::var("HATCHWRIGHT_KILLS").ok().and_then(|text| text.parse().ok()).unwrap_or(6)
}

/// Killed at any moment of writing, a program leaves the file that was there or a whole new one, and nothing that
/// the next one would not clear away.
#[test]
fn killed_while_writing_a_file_is_old_or_new() {
    let folder = small_job();
    let path = folder.path().join(OUT);
    let started = Instant::now();
    assert!(write_command(folder.path(), OUT).status().unwrap().success());
    let whole = started.elapsed();
    let new = fs::read(&path).unwrap();
    let (mut olds, count) = (0, kills());
    for kill in 0..count {
        fs::write(&path, "old").unwrap();
        let mut child = write_command(folder.path(), OUT).spawn().unwrap();
        // also a little after the end, so that both come up
        std::thread::sleep(whole.mul_f64(1.2 * f64::from(kill) / f64::from(count)));
        child.kill().unwrap(); // SIGKILL: it can clear nothing up
        child.wait().unwrap();
        let left = fs::read(&path).unwrap();
        assert!(left == b"old" || left == new, "{} bytes after kill {kill}", left.len());
        olds += u32::from(left == b"old");
    }
    assert!(olds > 0, "every kill came too late");
    // What a killed one left is cleared once it is old enough not to be somebody's work.
    let long_ago = std::time::SystemTime::now() - Duration::from_mins(1);
    for entry in fs::read_dir(folder.path()).unwrap().flatten() {
        if entry.file_name().to_string_lossy().ends_with(".part") {
            fs::File::options()
                .write(true)
                .open(entry.path())
                .unwrap()
                .set_modified(long_ago)
                .unwrap();
        }
    }
    assert!(write_command(folder.path(), OUT).status().unwrap().success());
    assert_eq!((fs::read(&path).unwrap() == new, parts_left(folder.path())), (true, 0));
}

/// What is said when a file cannot grow any more, as on a full disk: a clear error, the old file as it was, and
/// nothing beside it.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_keeps_the_old_file() {
    let folder = small_job();
    let path = folder.path().join(OUT);
    fs::write(&path, "old").unwrap();
    let program = env!("CARGO_BIN_EXE_hatchwright");
    // The shell's limit of a file's size, 4 or 8 kB by shell, without the signal that comes with it.
    let limited = format!("trap '' XFSZ; ulimit -f 8; exec {program} write {JOB} -o {OUT}");
    let said =
        Command::new("sh").current_dir(folder.path()).args(["-c", &limited]).output().unwrap();
    let words = String::from_utf8_lossy(&said.stderr).into_owned();
    assert_eq!(said.status.code(), Some(2), "{words}");
    assert!(words.contains(OUT) && words.contains("could not be written"), "{words}");
    assert_eq!((fs::read(&path).unwrap(), parts_left(folder.path())), (b"old".to_vec(), 0));
}

/// Two programs that write one file at the same time: it is whole, one's or the other's.
#[test]
fn two_writers_of_one_file_do_not_mix() {
    let folder = small_job();
    let mut both = [(); 2].map(|()| write_command(folder.path(), OUT).spawn().unwrap());
    assert!(both.iter_mut().all(|child| child.wait().unwrap().success()));
    assert_eq!(parts_left(folder.path()), 0);
    check(folder.path(), &["verify", OUT, "--job", JOB], 0, &["verified against the job"]);
}

/// A reader that goes away ends the program without a word.
#[cfg(unix)]
#[test]
fn a_broken_pipe_is_no_crash() {
    let folder = small_job();
    let program = env!("CARGO_BIN_EXE_hatchwright");
    let line = format!("{program} check {JOB} --json 2>errors | head -c 1 >/dev/null");
    assert!(
        Command::new("sh")
            .current_dir(folder.path())
            .args(["-c", &line])
            .status()
            .unwrap()
            .success()
    );
    let said = fs::read_to_string(folder.path().join("errors")).unwrap();
    assert!(!said.contains("panicked"), "{said}");
    let whole = hatchwright(folder.path(), &["check", JOB, "--json"]);
    assert!(whole.stdout.len() > 1);
}
