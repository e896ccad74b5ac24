//! A stage: a hidden folder in which files are written before they are moved into their place, so that nobody ever sees half a file. It holds
//! a list of what is to be written in it. What a killed run left in a stage is cleared away only if that list shows it to be ours.

use super::inputs::Inputs;
use super::manifest::{Look, Manifest, NAME, is_cut_short};
use super::{InTheWay, LITTER, Refused, Why, is_litter, names, parent};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// How the names of stages begin.
const BEING_WRITTEN: &str = ".boundwalk-";
/// What an older set is called while it is moved aside; its own name follows.
const ASIDE: &str = ".boundwalk-aside-";
/// Name of a new list before it takes the place of an older one.
const NEXT: &str = "next.json";
/// How often a stage is made anew where another run, while it is still empty, takes it for one that was left behind and removes it.
const TRIES: u32 = 10;

/// A stage in use. When it is dropped, it is removed with whatever is still in it.
#[derive(Debug)]
pub struct Stage {
    path: PathBuf,
    /// Shows other runs that this one is alive.
    _lock: Lock,
}

impl Stage {
    /// Makes one in `folder`, with the list of what is to be written.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub(crate) fn new(folder: &Path, manifest: &Manifest) -> io::Result<Stage> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(BEING_WRITTEN);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The permissions of any new folder: the system takes off what the user does not grant (the umask).
            builder.permissions(fs::Permissions::from_mode(0o777));
        }
        let list = manifest.bytes()?;
        let mut tries = 0;
        loop {
            let path = builder.tempdir_in(folder)?.keep();
            let stage = Stage {
                _lock: Lock::wait_on(&path),
                path,
            };
            tries += 1;
            match stage.write(NAME, &list) {
                // Another run cleared it away in the moment before it was locked.
                Err(error) if error.kind() == io::ErrorKind::NotFound && tries < TRIES => {}
                done => return done.map(|()| stage),
            }
        }
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// # Errors
    /// When the disk takes no more.
    pub(crate) fn write(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        fs::write(self.path.join(name), bytes)
    }

    /// Begins a file that is written bit by bit.
    ///
    /// # Errors
    /// When it cannot be made.
    #[cfg(feature = "day")]
    pub(crate) fn begin(&self, name: &str) -> io::Result<File> {
        File::create(self.path.join(name))
    }

    /// Puts this list beside what is in `folder`, in the place of an older one.
    ///
    /// # Errors
    /// When it cannot be written; the older one stays.
    pub(crate) fn put_manifest(&self, folder: &Path, manifest: &Manifest) -> io::Result<()> {
        self.write(NEXT, &manifest.bytes()?)?;
        fs::rename(self.path.join(NEXT), folder.join(NAME))
    }

    /// Moves a file into its place, replacing an older one.
    ///
    /// # Errors
    /// When it cannot be moved.
    pub(crate) fn put(&self, name: &str, folder: &Path) -> io::Result<()> {
        fs::rename(self.path.join(name), folder.join(name))
    }

    /// Moves a file into a place where there is none yet.
    ///
    /// # Errors
    /// When it cannot be moved, or there is one.
    pub(crate) fn put_new(&self, name: &str, folder: &Path) -> io::Result<()> {
        let (from, to) = (self.path.join(name), folder.join(name));
        #[cfg(any(target_os = "linux", target_os = "macos"))]
        {
            use rustix::fs::{CWD, RenameFlags, renameat_with};
            use rustix::io::Errno;
            match renameat_with(CWD, &from, CWD, &to, RenameFlags::NOREPLACE) {
                // This disk or system knows no such move: check for the name first instead, below.
                Err(Errno::INVAL | Errno::NOTSUP | Errno::NOSYS) => {}
                done => return done.map_err(io::Error::from),
            }
        }
        if fs::symlink_metadata(&to).is_ok() {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        fs::rename(from, to)
    }

    /// Makes the whole folder take the place of `place`, which is an older set of ours, empty, or not there. The list in
    /// it names all there is.
    ///
    /// # Errors
    /// Where something that is not ours is in the way, or the system says no: the older set stays as it was.
    pub(crate) fn take_place(self, place: &Path, inputs: &Inputs) -> Result<(), Refused> {
        // The list is given the latest time of all, as files that are not newer than their list count as unchanged without being read
        // ([`Look::Quick`]).
        File::options()
            .write(true)
            .open(self.path.join(NAME))?
            .set_modified(SystemTime::now())?;
        let older = match fs::symlink_metadata(place) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return Ok(fs::rename(&self.path, place)?);
            }
            Err(error) => return Err(error.into()),
            Ok(meta) if !meta.is_dir() => return Err(not_ours(place).into()),
            Ok(meta) => meta,
        };
        let older_list = Manifest::read(place);
        let Some(list) = older_list else {
            if let Some(first) = names(place)?.first() {
                return Err(not_ours(&place.join(first)).into());
            }
            // The system does not remove the folder if something has come into it since.
            fs::remove_dir(place)?;
            return Ok(fs::rename(&self.path, place)?);
        };
        if let Some(there) = list.in_the_way(place, inputs, Look::Whole)? {
            return Err(there.into());
        }
        for name in LITTER {
            if is_litter(place, name.as_ref()) {
                fs::copy(place.join(name), self.path.join(name))?;
            }
        }
        fs::set_permissions(&self.path, older.permissions())?;
        if exchange(&self.path, place) {
            // The stage's path now leads to the older set. If somebody's file has come into it at the last moment, both change places again.
            if let Some(there) = list.in_the_way(&self.path, inputs, Look::Quick)?
                && exchange(&self.path, place)
            {
                return Err(there.into());
            }
            return Ok(());
        }
        self.take_place_in_two_steps(place)
    }

    /// Replaces a set where the system or the disk cannot exchange two folders at once. If the program is killed between the two steps, the
    /// next run puts the older set back.
    fn take_place_in_two_steps(self, place: &Path) -> Result<(), Refused> {
        let own = place.file_name().unwrap_or_default().to_string_lossy();
        let aside = parent(place).join(format!("{ASIDE}{own}"));
        if fs::symlink_metadata(&aside).is_ok() {
            return Err(not_ours(&aside).into());
        }
        fs::rename(place, &aside)?;
        if let Err(error) = fs::rename(&self.path, place) {
            // The older set is put back. The first error is the one to tell, whether or not that works.
            let _ = fs::rename(&aside, place);
            return Err(error.into());
        }
        clear(&aside)?;
        Ok(())
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        // What cannot be cleared now is cleared by the next run.
        let _ = clear(&self.path);
    }
}

fn not_ours(path: &Path) -> InTheWay {
    InTheWay {
        path: path.to_owned(),
        why: Why::NotOurs,
    }
}

/// Clears away what killed runs left half written in this folder, and puts back a set that was moved aside. Gives the paths that it left
/// alone because they may not be ours.
///
/// # Errors
/// When the folder cannot be looked through.
pub(crate) fn clear_leftovers(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut left = Vec::new();
    for name in names(folder)? {
        let Some(own) = name.to_str().filter(|own| own.starts_with(BEING_WRITTEN)) else {
            continue;
        };
        let path = folder.join(own);
        let is_folder = fs::symlink_metadata(&path).is_ok_and(|meta| meta.is_dir());
        let lock = is_folder.then(|| Lock::on(&path));
        // A stage that is locked belongs to a run that is alive. Where the system knows no locks, nobody can tell, so that it stays.
        if matches!(lock, Some(Lock::Busy | Lock::None)) {
            continue;
        }
        let place = own.strip_prefix(ASIDE).map(|own| folder.join(own));
        let settled = is_folder
            && match place {
                Some(place) if fs::symlink_metadata(&place).is_err() => {
                    Manifest::read(&path).is_some() && fs::rename(&path, place).is_ok()
                }
                _ => clear(&path).unwrap_or(false),
            };
        if !settled {
            left.push(path);
        }
    }
    Ok(left)
}

/// Removes a stage, or an older set, if everything in it is ours; else it stays as it is and `false` comes back.
fn clear(folder: &Path) -> io::Result<bool> {
    let names = names(folder)?;
    let Some(list) = Manifest::read(folder) else {
        let only_the_list = matches!(names.as_slice(), [only] if only == NAME);
        if only_the_list && is_cut_short(&folder.join(NAME))? {
            fs::remove_file(folder.join(NAME))?;
        } else if !names.is_empty() {
            return Ok(false);
        }
        fs::remove_dir(folder)?;
        return Ok(true);
    };
    for name in &names {
        let ours = name == NAME
            || name == NEXT
            || is_litter(folder, name)
            || matches!(name.to_str(), Some(own) if list.was_writing(&folder.join(own), own)?);
        if !ours {
            return Ok(false);
        }
    }
    // The list is removed last: as long as anything else is there, it shows whose it is.
    for name in names.iter().filter(|name| *name != NAME) {
        fs::remove_file(folder.join(name))?;
    }
    fs::remove_file(folder.join(NAME))?;
    fs::remove_dir(folder)?;
    Ok(true)
}

/// A lock on a folder, which one run at a time can hold. The system releases it when the program ends in whatever way.
#[derive(Debug)]
pub enum Lock {
    Held(#[allow(dead_code, reason = "held for as long as it lives")] File),
    /// Another run holds it.
    Busy,
    /// The system or the disk knows no locks: the folder is taken to have one user.
    None,
}

impl Lock {
    /// Tries to lock a folder, without waiting.
    #[cfg(unix)]
    pub(crate) fn on(folder: &Path) -> Lock {
        use rustix::fs::{FlockOperation, flock};
        let Ok(file) = File::open(folder) else {
            return Lock::None;
        };
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => Lock::Held(file),
            Err(rustix::io::Errno::WOULDBLOCK) => Lock::Busy,
            Err(_) => Lock::None,
        }
    }

    #[cfg(not(unix))]
    pub(crate) fn on(_folder: &Path) -> Lock {
        Lock::None
    }

    /// Locks a folder that was only just made. Where another run has it, that run only looks whether it may be cleared away and releases it at
    /// once, so that waiting half a second at most is enough.
    fn wait_on(folder: &Path) -> Lock {
        for _ in 0..100 {
            match Lock::on(folder) {
                Lock::Busy => std::thread::sleep(Duration::from_millis(5)),
                lock => return lock,
            }
        }
        Lock::Busy
    }
}

/// Exchanges the names of two folders in one step; `false` where the system or the disk cannot.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn exchange(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn exchange(_one: &Path, _other: &Path) -> bool {
    false
}

#[cfg(all(test, unix))]
mod tests {
    use super::super::manifest::{Holds, Stamp};
    use super::*;

    /// A set as it lies in its place, or half written in a stage.
    fn set(folder: &Path, names: &[&str]) {
        fs::create_dir_all(folder).unwrap();
        let mut list = Manifest::new(Holds::Set);
        for name in ["a.txt", "b.txt"] {
            list = list.with(name, vec![Stamp::of(b"sheet")]);
        }
        fs::write(folder.join(NAME), list.bytes().unwrap()).unwrap();
        for name in names {
            fs::write(folder.join(name), "sheet").unwrap();
        }
    }

    fn left(folder: &Path) -> Vec<String> {
        let all = names(folder).unwrap().into_iter();
        all.map(|name| name.into_string().unwrap()).collect()
    }

    #[test]
    fn what_a_killed_run_left_is_cleared_or_put_back_if_it_is_ours() {
        let temp = tempfile::tempdir().unwrap();
        let at = |name: &str| temp.path().join(name);
        // One run was killed while writing, another after the exchange.
        set(&at(".boundwalk-half"), &["a.txt"]);
        fs::write(at(".boundwalk-half/b.txt"), "she").unwrap();
        set(&at(".boundwalk-older"), &["a.txt", "b.txt"]);
        // One was killed while its list was being written.
        fs::create_dir(at(".boundwalk-begun")).unwrap();
        fs::write(at(".boundwalk-begun").join(NAME), "{\"schema\":\"bound").unwrap();
        // One was killed before it had a list.
        fs::create_dir(at(".boundwalk-empty")).unwrap();
        // One was killed between moving the older set aside and the new one into its place, another after both.
        set(&at(".boundwalk-aside-J1"), &["a.txt"]);
        set(&at(".boundwalk-aside-J2"), &["a.txt"]);
        set(&at("J2"), &["b.txt"]);
        // This stage is of a run that is alive.
        set(&at(".boundwalk-alive"), &["a.txt"]);
        let alive = Lock::on(&at(".boundwalk-alive"));
        assert!(matches!(alive, Lock::Held(_)));
        // What may be the user's: a file, a folder without a list, one with something that its list does not name, one with a
        // sheet that was changed.
        fs::write(at(".boundwalk-aside-0930.nmea"), "$GPGGA").unwrap();
        fs::create_dir(at(".boundwalk-aside-J3")).unwrap();
        fs::write(at(".boundwalk-aside-J3/job.toml"), "[walk]").unwrap();
        set(&at(".boundwalk-photo"), &["a.txt", "photo.jpg"]);
        set(&at(".boundwalk-mine"), &["a.txt"]);
        fs::write(at(".boundwalk-mine/b.txt"), "SHEET").unwrap();
        let mut told = clear_leftovers(temp.path()).unwrap();
        told.sort();
        let kept = [
            ".boundwalk-aside-0930.nmea",
            ".boundwalk-aside-J3",
            ".boundwalk-mine",
            ".boundwalk-photo",
        ];
        assert_eq!(told, kept.map(at));
        assert_eq!(
            left(temp.path()),
            [
                ".boundwalk-alive",
                ".boundwalk-aside-0930.nmea",
                ".boundwalk-aside-J3",
                ".boundwalk-mine",
                ".boundwalk-photo",
                "J1",
                "J2"
            ]
        );
        assert_eq!(left(&at(".boundwalk-photo")), ["a.txt", NAME, "photo.jpg"]);
        assert_eq!(left(&at("J1")), ["a.txt", NAME]);
        assert_eq!(left(&at("J2")), ["b.txt", NAME]);
    }

    /// The way that is taken where two folders cannot be exchanged in one step.
    #[test]
    fn an_older_set_goes_only_once_the_new_one_is_there() {
        let temp = tempfile::tempdir().unwrap();
        let place = temp.path().join("J1");
        set(&place, &["a.txt"]);
        let list = Manifest::new(Holds::Set).with("c.txt", vec![Stamp::of(b"new")]);
        let stage = Stage::new(temp.path(), &list).unwrap();
        stage.write("c.txt", b"new").unwrap();
        stage.take_place_in_two_steps(&place).unwrap();
        assert_eq!(left(temp.path()), ["J1"]);
        assert_eq!(left(&place), [NAME, "c.txt"]);
    }

    #[test]
    fn a_file_never_takes_a_name_that_is_taken() {
        let temp = tempfile::tempdir().unwrap();
        let list = Manifest::new(Holds::Files).with("job.toml", Vec::new());
        let stage = Stage::new(temp.path(), &list).unwrap();
        stage.write("job.toml", b"[job]").unwrap();
        stage.put_new("job.toml", temp.path()).unwrap();
        stage.write("job.toml", b"[walk]").unwrap();
        let error = stage.put_new("job.toml", temp.path()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::AlreadyExists);
        drop(stage);
        assert_eq!(left(temp.path()), ["job.toml"]);
        assert_eq!(fs::read(temp.path().join("job.toml")).unwrap(), b"[job]");
    }
}
