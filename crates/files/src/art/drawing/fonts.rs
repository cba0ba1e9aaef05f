//! The system's fonts for text in an SVG. The child may open nothing once it looks at a drawing, so
//! every font file is opened before and held open; a font is read into memory when text asks for it.

use std::collections::HashMap;
use std::fs::File;
use std::io::{Read, Seek};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use resvg::usvg::FallbackSelectionFn;
use resvg::usvg::fontdb::{Database, ID, Source};
use skrifa::FontRef;
use skrifa::charmap::Charmap;

use super::fence;

/// What text can be set in.
#[derive(Clone, Default)]
pub(super) struct Fonts {
    pub(super) database: Arc<Database>,
    /// The files of the faces, where they are held open.
    held: Arc<HashMap<ID, Arc<Held>>>,
    /// Files that could not be held open.
    pub(super) left_out: usize,
}

impl Fonts {
    /// The fonts of this machine, opened when they are used. Looked for once.
    pub(super) fn of_the_system() -> Self {
        static SYSTEM: OnceLock<Fonts> = OnceLock::new();
        let look = || Self { database: Arc::new(system()), ..Self::default() };
        SYSTEM.get_or_init(look).clone()
    }

    /// The fonts of this machine, each file open.
    pub(super) fn held_open() -> Self {
        fence::open_many_files();
        let named = system();
        // Names of generic families stay; faces come again in the same order.
        let mut database = named.clone();
        let mut files: HashMap<PathBuf, Option<Arc<Held>>> = HashMap::new();
        let mut held = HashMap::new();
        for face in named.faces() {
            database.remove_face(face.id);
            let (Source::File(path) | Source::SharedFile(path, _)) = &face.source else { continue };
            let file = files.entry(path.clone()).or_insert_with(|| File::open(path).ok().map(Held::new));
            if let Some(file) = file {
                let mut face = face.clone();
                face.source = Source::Binary(file.clone());
                held.insert(database.push_face_info(face), file.clone());
            }
        }
        let left_out = files.values().filter(|file| file.is_none()).count();
        Self { database: Arc::new(database), held: Arc::new(held), left_out }
    }

    /// Finds a face for a character that the text's own fonts do not have, as usvg does: the first in the
    /// database that has it and differs from the text's font not in style, weight and width all at once.
    /// usvg would hold in memory every font that it looks into.
    pub(super) fn fallback(&self) -> FallbackSelectionFn<'static> {
        let held = self.held.clone();
        let known: Mutex<HashMap<(ID, char), bool>> = Mutex::default();
        Box::new(move |c, used, database| {
            let base = database.face(*used.first()?)?;
            let differs = |face: &resvg::usvg::fontdb::FaceInfo| {
                face.style != base.style && face.weight != base.weight && face.stretch != base.stretch
            };
            let has = |face: &resvg::usvg::fontdb::FaceInfo| {
                let mut known = known.lock().unwrap_or_else(PoisonError::into_inner);
                *known.entry((face.id, c)).or_insert_with(|| match held.get(&face.id) {
                    Some(file) => file.look(|bytes| has_char(bytes, face.index, c)),
                    None => database.with_face_data(face.id, |bytes, index| has_char(bytes, index, c)) == Some(true),
                })
            };
            database.faces().find(|face| !used.contains(&face.id) && !differs(face) && has(face)).map(|face| face.id)
        })
    }
}

fn system() -> Database {
    let mut database = Database::new();
    database.load_system_fonts();
    database
}

fn has_char(bytes: &[u8], index: u32, c: char) -> bool {
    FontRef::from_index(bytes, index).is_ok_and(|font| Charmap::new(&font).map(c).is_some())
}

/// An open font file; its bytes are kept from the first time that text is set in it.
struct Held {
    file: Mutex<File>,
    bytes: OnceLock<Vec<u8>>,
}

impl Held {
    fn new(file: File) -> Arc<Self> {
        Arc::new(Self { file: Mutex::new(file), bytes: OnceLock::new() })
    }

    /// All of the file; nothing if the disk fails, which is a font without letters.
    fn read(&self) -> Vec<u8> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        let mut bytes = Vec::new();
        match file.rewind().and_then(|()| file.read_to_end(&mut bytes)) {
            Ok(_) => bytes,
            Err(_) => Vec::new(),
        }
    }

    /// Looks into it without keeping it.
    fn look<T>(&self, at: impl FnOnce(&[u8]) -> T) -> T {
        match self.bytes.get() {
            Some(bytes) => at(bytes),
            None => at(&self.read()),
        }
    }
}

impl AsRef<[u8]> for Held {
    fn as_ref(&self) -> &[u8] {
        self.bytes.get_or_init(|| self.read())
    }
}
