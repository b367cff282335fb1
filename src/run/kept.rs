//! Results kept from one run to the next, beside the report (`OUT.cache/`, never in the season folder).
//!
//! An entry stands under the hash of all that its result depends on: the program, the content of the
//! files, and what was declared about them. An entry that is damaged, of another program or of another
//! key counts as none, so that a run with the store gives the bytes of one without.

use std::collections::HashSet;
use std::fmt::Debug;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use serde::Serialize;
use serde::de::DeserializeOwned;
use xxhash_rust::xxh3::{Xxh3, xxh3_128};

use super::unchanged::program;

/// First bytes of an entry.
const MAGIC: &[u8; 8] = b"bbkept01";
/// Key and checksum.
const HEAD: usize = MAGIC.len() + 16 + 16;
const ENDING: &str = "kept";
const LOCK: &str = "lock";
/// Of an entry that is being written; a killed run leaves it.
const PART_ENDING: &str = "part";

/// Of all that a result depends on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key(u128);

/// A key in the making: every part counts with its length, so that no two lists of parts run into one
/// another.
pub struct Parts(Xxh3);

impl Parts {
    /// Of results of a kind, made by this program.
    pub fn of(kind: &str) -> Self {
        Self(Xxh3::new())
            .bytes(program().as_bytes())
            .bytes(kind.as_bytes())
    }

    pub fn bytes(mut self, part: &[u8]) -> Self {
        self.0.update(&(part.len() as u64).to_le_bytes());
        self.0.update(part);
        self
    }

    pub fn key(self, part: Key) -> Self {
        self.bytes(&part.0.to_le_bytes())
    }

    /// Whatever shows all that it holds.
    pub fn shown(self, part: &impl Debug) -> Self {
        self.bytes(format!("{part:?}").as_bytes())
    }

    pub fn done(self) -> Key {
        Key(self.0.digest128())
    }
}

/// The store beside a report; without a folder nothing is kept and nothing found.
#[derive(Debug, Default)]
pub struct Kept {
    folder: Option<PathBuf>,
    /// Held shared by every run that uses the store.
    lock: Option<File>,
    /// Names of the entries that this run made or used.
    used: Mutex<HashSet<String>>,
}

impl Kept {
    /// Nothing is kept where the folder cannot be made.
    pub fn in_folder(folder: PathBuf) -> Self {
        let lock = fs::create_dir_all(&folder)
            .and_then(|()| File::create(folder.join(LOCK)))
            .and_then(|lock| lock.lock_shared().map(|()| lock));
        Self {
            folder: lock.is_ok().then_some(folder),
            lock: lock.ok(),
            used: Mutex::default(),
        }
    }

    /// The result under a key, made by `make` where it is not there; kept where `sound` says so
    /// afterwards. Without a key nothing is known of what it depends on.
    pub fn or_make<T: Serialize + DeserializeOwned>(
        &self,
        kind: &'static str,
        key: Option<Key>,
        sound: impl Fn() -> bool,
        make: impl FnOnce() -> T,
    ) -> T {
        if let Some(found) = key.and_then(|key| self.get(kind, key)) {
            return found;
        }
        let made = make();
        if let Some(key) = key.filter(|_| sound()) {
            self.put(kind, key, &made);
        }
        made
    }

    pub fn get<T: DeserializeOwned>(&self, kind: &'static str, key: Key) -> Option<T> {
        let name = name(kind, key);
        let bytes = fs::read(self.folder.as_ref()?.join(&name)).ok()?;
        let found = postcard::from_bytes(opened(&bytes, key)?).ok()?;
        self.use_of(name);
        Some(found)
    }

    /// Whether an entry is there and whole.
    pub fn has(&self, kind: &'static str, key: Key) -> bool {
        let name = name(kind, key);
        let path = self.folder.as_ref().map(|folder| folder.join(&name));
        let bytes = path.and_then(|path| fs::read(path).ok());
        let sound = bytes.is_some_and(|bytes| opened(&bytes, key).is_some());
        if sound {
            self.use_of(name);
        }
        sound
    }

    /// A run is no worse for an entry that cannot be written.
    pub fn put<T: Serialize>(&self, kind: &'static str, key: Key, value: &T) -> bool {
        let Some(folder) = &self.folder else {
            return false;
        };
        let Ok(payload) = postcard::to_stdvec(value) else {
            return false;
        };
        let name = name(kind, key);
        let written = write(folder, &name, &closed(&payload, key)).is_ok();
        self.use_of(name);
        written
    }

    fn use_of(&self, name: String) {
        if let Ok(mut used) = self.used.lock() {
            used.insert(name);
        }
    }

    /// Removes the entries that a run had no use for: they are of files, maps or rules that are no more.
    /// Not while another run uses the store.
    pub fn sweep(&self) {
        let (Some(folder), Some(lock), Ok(used)) = (&self.folder, &self.lock, self.used.lock())
        else {
            return;
        };
        if lock.unlock().is_err() || lock.try_lock().is_err() {
            return;
        }
        let Ok(there) = fs::read_dir(folder) else {
            return;
        };
        for entry in there.filter_map(Result::ok) {
            let name = entry.file_name();
            let name = name.to_string_lossy();
            let ending = Path::new(&*name).extension();
            let ours = ending.is_some_and(|e| e == ENDING || e == PART_ENDING);
            if ours && !used.contains(&*name) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}

fn name(kind: &str, key: Key) -> String {
    format!("{kind}-{:032x}.{ENDING}", key.0)
}

fn closed(payload: &[u8], key: Key) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(HEAD + payload.len());
    bytes.extend_from_slice(MAGIC);
    bytes.extend_from_slice(&key.0.to_le_bytes());
    bytes.extend_from_slice(&xxh3_128(payload).to_le_bytes());
    bytes.extend_from_slice(payload);
    bytes
}

/// The payload, where the entry is whole and that of the key.
fn opened(bytes: &[u8], key: Key) -> Option<&[u8]> {
    let (head, payload) = bytes.split_at_checked(HEAD)?;
    let rest = head.strip_prefix(MAGIC)?;
    let (own, seal) = rest.split_at_checked(16)?;
    let sound = own == key.0.to_le_bytes() && seal == xxh3_128(payload).to_le_bytes();
    sound.then_some(payload)
}

/// Whole or not at all, whoever else writes the same.
fn write(folder: &Path, name: &str, bytes: &[u8]) -> std::io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut file = tempfile::Builder::new()
        .suffix(&format!(".{PART_ENDING}"))
        .tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.persist(folder.join(name)).map_err(|e| e.error)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(of: &str) -> Key {
        Parts::of("test").bytes(of.as_bytes()).done()
    }

    #[test]
    fn parts_do_not_run_into_one_another() {
        let two = |a: &[u8], b: &[u8]| Parts::of("test").bytes(a).bytes(b).done();
        assert_ne!(two(b"ab", b"c"), two(b"a", b"bc"));
        assert_ne!(two(b"a", b""), Parts::of("test").bytes(b"a").done());
        assert_eq!(two(b"a", b"b"), two(b"a", b"b"));
    }

    #[test]
    fn what_is_kept_is_found_and_what_is_damaged_is_not() {
        let dir = tempfile::tempdir().unwrap();
        let kept = Kept::in_folder(dir.path().join("store"));
        let value = vec![1.5, f64::INFINITY, -0.0];
        assert_eq!(kept.get::<Vec<f64>>("a", key("x")), None);
        assert!(kept.put("a", key("x"), &value));
        assert_eq!(kept.get("a", key("x")), Some(value.clone()));
        let path = dir.path().join("store").join(name("a", key("x")));
        let whole = fs::read(&path).unwrap();
        for place in 0..whole.len() {
            let mut damaged = whole.clone();
            damaged[place] ^= 1;
            fs::write(&path, damaged).unwrap();
            assert_eq!(kept.get::<Vec<f64>>("a", key("x")), None, "byte {place}");
            fs::write(&path, &whole[..place]).unwrap();
            assert_eq!(kept.get::<Vec<f64>>("a", key("x")), None, "cut at {place}");
        }
        // One key's entry under another's name.
        fs::write(dir.path().join("store").join(name("a", key("y"))), &whole).unwrap();
        assert_eq!(kept.get::<Vec<f64>>("a", key("y")), None);
    }

    #[test]
    fn an_entry_without_use_is_swept_and_nothing_else() {
        let dir = tempfile::tempdir().unwrap();
        Kept::in_folder(dir.path().to_owned()).put("a", key("old"), &1u8);
        fs::write(dir.path().join("run.json"), "{}").unwrap();
        fs::write(dir.path().join("torn.part"), "half").unwrap();
        let kept = Kept::in_folder(dir.path().to_owned());
        kept.put("a", key("new"), &2u8);
        let other = Kept::in_folder(dir.path().to_owned());
        kept.sweep();
        assert!(kept.has("a", key("old")), "another run uses the store");
        drop((kept, other));
        let kept = Kept::in_folder(dir.path().to_owned());
        assert!(kept.has("a", key("new")));
        kept.sweep();
        let mut names: Vec<_> = fs::read_dir(dir.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        assert_eq!(names, [&name("a", key("new")), LOCK, "run.json"]);
    }
}
