//! Bytes of a CTranslate2 `model.bin` → its variables.
//! Takes the whole file; gives names, shapes and the stretch of bytes of each. Every size in the file is checked
//! against the bytes that are there, so that no file, however damaged, makes it panic or reserve memory.
//! Leaves alone: what the variables mean (`tensors`), aliases (two names for one matrix).
//! Little-endian: version u32, kind, revision u32, count u32, then for each variable its name, rank u8, dimensions
//! u32, number type u8, length in bytes u32 and the bytes; then aliases, as pairs of names. A name is a length u16
//! and that many bytes, the last of them zero. (Read from the pinned files themselves; 6 is the version they have.)

use std::collections::BTreeMap;

use super::error::BadModel;

/// A number type's code in the file.
pub(super) const INT16: u8 = 2;
/// 16-bit floating point, the type of all weights that are read here.
pub(super) const FLOAT16: u8 = 4;

/// One named array of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Variable<'a> {
    pub(super) shape: Vec<usize>,
    pub(super) number_type: u8,
    pub(super) bytes: &'a [u8],
}

/// The variables of a file by name.
#[derive(Debug)]
pub(super) struct Variables<'a>(BTreeMap<&'a str, Variable<'a>>);

impl<'a> Variables<'a> {
    /// The variable of that name, or an error that names it.
    pub(super) fn get(&self, name: &str) -> Result<&Variable<'a>, BadModel> {
        self.0.get(name).ok_or_else(|| BadModel::Missing { name: name.to_owned() })
    }

    pub(super) fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }

    /// The 16-bit floats of a variable that must have exactly this shape, as little-endian bytes.
    pub(super) fn halves(&self, name: &str, shape: &[usize]) -> Result<&'a [u8], BadModel> {
        let variable = self.get(name)?;
        if variable.number_type != FLOAT16 {
            return Err(BadModel::Type { name: name.to_owned(), found: variable.number_type });
        }
        if variable.shape != shape {
            let (found, expected) = (variable.shape.clone(), shape.to_vec());
            return Err(BadModel::Shape { name: name.to_owned(), found, expected });
        }
        Ok(variable.bytes)
    }

    /// A single 16-bit whole number, such as the count of attention heads.
    pub(super) fn number(&self, name: &str) -> Result<usize, BadModel> {
        let variable = self.get(name)?;
        match (variable.number_type, variable.bytes) {
            (INT16, &[low, high]) => Ok(usize::from(u16::from_le_bytes([low, high]))),
            (found, _) => Err(BadModel::Type { name: name.to_owned(), found }),
        }
    }
}

/// Reads a whole file.
///
/// # Errors
/// When the bytes are cut short, go on after the end, contradict themselves, or are not a Whisper model.
pub(super) fn read(bytes: &[u8]) -> Result<Variables<'_>, BadModel> {
    let mut cursor = Cursor { bytes, at: 0 };
    let version = cursor.u32("the version")?;
    if version != 6 {
        return Err(BadModel::Version { found: version });
    }
    let kind = cursor.name("the kind of model")?;
    if kind != "WhisperSpec" {
        return Err(BadModel::Kind { found: kind.to_owned() });
    }
    cursor.u32("the revision")?;
    let count = cursor.u32("the count of variables")?;
    let mut variables = BTreeMap::new();
    for _ in 0..count {
        let (name, variable) = cursor.variable()?;
        if variables.insert(name, variable).is_some() {
            return Err(BadModel::Twice { name: name.to_owned() });
        }
    }
    for _ in 0..cursor.u32("the count of aliases")? {
        cursor.name("an alias")?;
        cursor.name("an alias")?;
    }
    match bytes.len() - cursor.at {
        0 => Ok(Variables(variables)),
        extra => Err(BadModel::Extra { extra }),
    }
}

/// Where reading has got to; it never goes past the end.
struct Cursor<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Cursor<'a> {
    fn take(&mut self, length: usize, what: &'static str) -> Result<&'a [u8], BadModel> {
        let cut = BadModel::Cut { what, at: self.at };
        let end = self.at.checked_add(length);
        let taken = end.and_then(|end| self.bytes.get(self.at..end)).ok_or(cut)?;
        self.at += length;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self, what: &'static str) -> Result<[u8; N], BadModel> {
        let cut = BadModel::Cut { what, at: self.at };
        self.take(N, what)?.try_into().map_err(|_| cut)
    }

    fn u8(&mut self, what: &'static str) -> Result<u8, BadModel> {
        Ok(u8::from_le_bytes(self.array(what)?))
    }

    fn u32(&mut self, what: &'static str) -> Result<u32, BadModel> {
        Ok(u32::from_le_bytes(self.array(what)?))
    }

    fn size(&mut self, what: &'static str) -> Result<usize, BadModel> {
        let at = self.at;
        usize::try_from(self.u32(what)?).map_err(|_| BadModel::Cut { what, at })
    }

    fn name(&mut self, what: &'static str) -> Result<&'a str, BadModel> {
        let at = self.at;
        let length = u16::from_le_bytes(self.array(what)?);
        let bytes = self.take(usize::from(length), what)?;
        let text = bytes.strip_suffix(&[0]).unwrap_or(bytes);
        std::str::from_utf8(text).map_err(|_| BadModel::Name { at })
    }

    fn variable(&mut self) -> Result<(&'a str, Variable<'a>), BadModel> {
        let name = self.name("a name")?;
        let rank = self.u8("a rank")?;
        let shape = (0..rank).map(|_| self.size("a dimension")).collect::<Result<Vec<usize>, _>>()?;
        let number_type = self.u8("a number type")?;
        let said = self.size("a length")?;
        let needed = width(number_type)
            .and_then(|width| shape.iter().try_fold(width, |product, dimension| product.checked_mul(*dimension)))
            .ok_or_else(|| BadModel::Type { name: name.to_owned(), found: number_type })?;
        if said != needed {
            return Err(BadModel::Size { name: name.to_owned(), said, shape, needed });
        }
        Ok((name, Variable { shape, number_type, bytes: self.take(said, "the numbers of a variable")? }))
    }
}

/// Bytes of one number of a type: float32, int8, int16, int32, float16, bfloat16.
fn width(number_type: u8) -> Option<usize> {
    match number_type {
        0 | 3 => Some(4),
        1 => Some(1),
        2 | 4 | 5 => Some(2),
        _ => None,
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Writes a file of the kind read here, from (name, shape, type, bytes).
    pub(in crate::setup) fn file(variables: &[(String, Vec<usize>, u8, Vec<u8>)]) -> Vec<u8> {
        fn name(out: &mut Vec<u8>, text: &str) {
            out.extend(u16::try_from(text.len() + 1).unwrap().to_le_bytes());
            out.extend(text.bytes());
            out.push(0);
        }
        let mut out = 6u32.to_le_bytes().to_vec();
        name(&mut out, "WhisperSpec");
        out.extend(3u32.to_le_bytes());
        out.extend(u32::try_from(variables.len()).unwrap().to_le_bytes());
        for (text, shape, number_type, bytes) in variables {
            name(&mut out, text);
            out.push(u8::try_from(shape.len()).unwrap());
            shape.iter().for_each(|dimension| out.extend(u32::try_from(*dimension).unwrap().to_le_bytes()));
            out.push(*number_type);
            out.extend(u32::try_from(bytes.len()).unwrap().to_le_bytes());
            out.extend(bytes);
        }
        out.extend(1u32.to_le_bytes());
        name(&mut out, "decoder/projection/weight");
        name(&mut out, "decoder/embeddings/weight");
        out
    }

    fn small() -> Vec<u8> {
        file(&[
            ("encoder/num_heads".into(), vec![], INT16, vec![8, 0]),
            ("a/weight".into(), vec![2, 3], FLOAT16, (0..12).collect()),
        ])
    }

    #[test]
    fn names_shapes_and_bytes_come_back() {
        let bytes = small();
        let variables = read(&bytes).unwrap();
        assert_eq!(variables.number("encoder/num_heads"), Ok(8));
        assert_eq!(variables.halves("a/weight", &[2, 3]).unwrap(), (0..12).collect::<Vec<u8>>());
        assert!(variables.has("a/weight") && !variables.has("decoder/projection/weight"));
        assert_eq!(variables.get("b").unwrap_err().to_string(), "`b` is missing");
        assert_eq!(
            variables.halves("a/weight", &[3, 2]).unwrap_err().to_string(),
            "`a/weight` has the shape [2, 3]; [3, 2] was expected"
        );
        assert_eq!(
            variables.halves("encoder/num_heads", &[]).unwrap_err().to_string(),
            "`encoder/num_heads` is not of the number type expected (type 2)"
        );
    }

    #[test]
    fn a_file_cut_anywhere_is_refused() {
        let bytes = small();
        for length in 0..bytes.len() {
            assert!(matches!(read(&bytes[..length]), Err(BadModel::Cut { .. })), "cut at {length}");
        }
    }

    #[test]
    fn what_does_not_fit_is_named() {
        let mut longer = small();
        longer.push(1);
        assert_eq!(read(&longer).unwrap_err(), BadModel::Extra { extra: 1 });
        let mut older = small();
        older[0] = 5;
        assert_eq!(read(&older).unwrap_err(), BadModel::Version { found: 5 });
        let mut other = small();
        other[6] = b'L';
        assert_eq!(read(&other).unwrap_err(), BadModel::Kind { found: "LhisperSpec".into() });
        let huge = file(&[("a".into(), vec![u32::MAX as usize; 4], FLOAT16, vec![])]);
        assert!(matches!(read(&huge), Err(BadModel::Type { .. })), "a product beyond all memory is refused");
        let twice = file(&[("a".into(), vec![], 1, vec![0]), ("a".into(), vec![], 1, vec![0])]);
        assert_eq!(read(&twice).unwrap_err(), BadModel::Twice { name: "a".into() });
    }

    proptest! {
        #[test]
        fn any_bytes_give_an_answer(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            let _ = read(&bytes);
        }

        #[test]
        fn a_damaged_file_gives_an_answer(at in 0usize..100, value: u8) {
            let mut bytes = small();
            let length = bytes.len();
            bytes[at % length] = value;
            let _ = read(&bytes);
        }
    }
}
