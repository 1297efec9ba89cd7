//! Numbers out of a GLB's buffers, every offset checked: no file can make this read outside its bytes or set aside more than it holds.

use base64::Engine;
use gltf::json::accessor::{ComponentType, Type};
use gltf::json::validation::{Checked, USize64};
use gltf::json::{Root, accessor};
use std::borrow::Cow;
use std::cell::Cell;

/// More numbers than any vehicle needs: beyond it a file is refused before memory is set aside.
const NUMBERS: usize = 24_000_000;

/// The numbers of one accessor, all as f64 (exact for every component type), `components` a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Values {
    pub components: usize,
    pub data: Vec<f64>,
}

impl Values {
    pub fn count(&self) -> usize {
        self.data.len() / self.components.max(1)
    }

    /// Row `i` of a three-component accessor.
    pub fn triple(&self, i: usize) -> Option<[f64; 3]> {
        let at = i.checked_mul(3)?;
        self.data.get(at..at.checked_add(3)?)?.try_into().ok()
    }
}

/// A document with the bytes of its buffers.
pub struct Buffers<'a> {
    pub root: &'a Root,
    data: Vec<Result<Cow<'a, [u8]>, String>>,
    /// Numbers that may still be decoded, over all accessors together.
    left: Cell<usize>,
}

impl<'a> Buffers<'a> {
    /// `binary` is the GLB's binary chunk, which buffer 0 takes; other buffers are `data:` URIs.
    pub fn new(root: &'a Root, binary: Option<&'a [u8]>) -> Self {
        let data = root
            .buffers
            .iter()
            .enumerate()
            .map(|(i, buffer)| match (&buffer.uri, binary) {
                (Some(uri), _) => decode_uri(uri).map(Cow::Owned),
                (None, Some(binary)) if i == 0 => Ok(Cow::Borrowed(binary)),
                _ => Err("it has no bytes within the file".to_string()),
            })
            .collect();
        Buffers { root, data, left: Cell::new(NUMBERS) }
    }

    /// The bytes of a buffer view with its stride, where it states one.
    pub fn view(&self, index: usize) -> Result<(&[u8], Option<usize>), String> {
        let view = self.root.buffer_views.get(index).ok_or_else(|| format!("there is no buffer view {index}"))?;
        let buffer = view.buffer.value();
        let bytes = match self.data.get(buffer) {
            Some(Ok(bytes)) => bytes,
            Some(Err(why)) => return Err(format!("buffer {buffer} cannot be read: {why}")),
            None => return Err(format!("buffer view {index} names buffer {buffer}, which is not there")),
        };
        let start = size(view.byte_offset.unwrap_or_default());
        let range = start.zip(size(view.byte_length)).and_then(|(start, length)| Some(start..start.checked_add(length)?));
        let slice = range.and_then(|range| bytes.get(range));
        let slice = slice.ok_or_else(|| format!("buffer view {index} reaches beyond the {} bytes of buffer {buffer}", bytes.len()))?;
        Ok((slice, view.byte_stride.map(|stride| stride.0)))
    }

    /// All numbers of an accessor; sparse values are put in, normalized integers scaled.
    pub fn values(&self, index: usize) -> Result<Values, String> {
        let accessor = self.root.accessors.get(index).ok_or_else(|| format!("there is no accessor {index}"))?;
        let (Checked::Valid(component), Checked::Valid(kind)) = (&accessor.component_type, &accessor.type_) else {
            return Err(format!("accessor {index} has an unknown type"));
        };
        let component = component.0;
        let components = match kind {
            Type::Scalar => 1,
            Type::Vec2 => 2,
            Type::Vec3 => 3,
            Type::Vec4 => 4,
            _ => return Err(format!("accessor {index} holds matrices, where numbers or vectors are read")),
        };
        let count = size(accessor.count).ok_or_else(|| format!("accessor {index} is too long"))?;
        let numbers = count.checked_mul(components).filter(|n| *n <= self.left.get());
        let numbers =
            numbers.ok_or_else(|| format!("accessor {index} with {count} entries is more than the {NUMBERS} numbers read at most"))?;
        if accessor.buffer_view.is_none() && accessor.sparse.is_none() {
            return Err(format!("accessor {index} has no data (is it compressed?)"));
        }
        let mut data = match &accessor.buffer_view {
            Some(view) => {
                let (bytes, stride) = self.view(view.value())?;
                let bytes = size(accessor.byte_offset.unwrap_or_default()).and_then(|offset| bytes.get(offset..));
                let bytes = bytes.ok_or_else(|| format!("accessor {index} starts beyond its buffer view"))?;
                let mut data = Vec::new();
                let row = Row { component, components, normalized: accessor.normalized };
                row.read(bytes, stride, count, &mut data).ok_or_else(|| {
                    format!("accessor {index} with {count} entries reaches beyond the {} bytes of its buffer view", bytes.len())
                })?;
                data
            }
            None => vec![0.0; numbers],
        };
        self.left.set(self.left.get().saturating_sub(numbers));
        if let Some(sparse) = &accessor.sparse {
            self.put_sparse(index, sparse, Row { component, components, normalized: accessor.normalized }, &mut data)?;
        }
        Ok(Values { components, data })
    }

    fn put_sparse(&self, index: usize, sparse: &accessor::sparse::Sparse, row: Row, data: &mut [f64]) -> Result<(), String> {
        let wrong = |what: &str| format!("the sparse {what} of accessor {index} reach beyond their buffer view or the accessor");
        let count = size(sparse.count).filter(|count| *count <= data.len()).ok_or_else(|| wrong("values"))?;
        let Checked::Valid(component) = &sparse.indices.component_type else { return Err(wrong("indices")) };
        let mut at = Vec::new();
        let (bytes, _) = self.view(sparse.indices.buffer_view.value())?;
        let bytes = size(sparse.indices.byte_offset).and_then(|offset| bytes.get(offset..)).ok_or_else(|| wrong("indices"))?;
        let whole = Row { component: component.0, components: 1, normalized: false };
        whole.read(bytes, None, count, &mut at).ok_or_else(|| wrong("indices"))?;
        let mut values = Vec::new();
        let (bytes, _) = self.view(sparse.values.buffer_view.value())?;
        let bytes = size(sparse.values.byte_offset).and_then(|offset| bytes.get(offset..)).ok_or_else(|| wrong("values"))?;
        row.read(bytes, None, count, &mut values).ok_or_else(|| wrong("values"))?;
        for (at, value) in at.iter().zip(values.chunks_exact(row.components)) {
            let start = *at as usize * row.components;
            data.get_mut(start..start + row.components).ok_or_else(|| wrong("indices"))?.copy_from_slice(value);
        }
        Ok(())
    }
}

/// How one entry of an accessor lies in its bytes.
#[derive(Clone, Copy)]
struct Row {
    component: ComponentType,
    components: usize,
    normalized: bool,
}

impl Row {
    /// Appends `count` entries; `None` where they reach beyond `bytes`.
    fn read(self, bytes: &[u8], stride: Option<usize>, count: usize, out: &mut Vec<f64>) -> Option<()> {
        let size = self.component.size();
        let length = size * self.components;
        let stride = stride.unwrap_or(length);
        if count == 0 {
            return Some(());
        }
        let end = stride.checked_mul(count - 1)?.checked_add(length)?;
        if end > bytes.len() || stride < length {
            return None;
        }
        out.reserve(count * self.components);
        for entry in 0..count {
            for chunk in bytes.get(entry * stride..entry * stride + length)?.chunks_exact(size) {
                out.push(self.number(chunk));
            }
        }
        Some(())
    }

    /// One number, little endian; normalized integers as glTF 2.0, section 3.6.2.2.
    fn number(self, bytes: &[u8]) -> f64 {
        let scale = |value: f64, highest: f64| if self.normalized { (value / highest).max(-1.0) } else { value };
        match (self.component, bytes) {
            (ComponentType::I8, [a]) => scale(f64::from(*a as i8), 127.0),
            (ComponentType::U8, [a]) => scale(f64::from(*a), 255.0),
            (ComponentType::I16, [a, b]) => scale(f64::from(i16::from_le_bytes([*a, *b])), 32767.0),
            (ComponentType::U16, [a, b]) => scale(f64::from(u16::from_le_bytes([*a, *b])), 65535.0),
            (ComponentType::U32, [a, b, c, d]) => f64::from(u32::from_le_bytes([*a, *b, *c, *d])),
            (ComponentType::F32, [a, b, c, d]) => f64::from(f32::from_le_bytes([*a, *b, *c, *d])),
            _ => f64::NAN,
        }
    }
}

fn size(value: USize64) -> Option<usize> {
    usize::try_from(value.0).ok()
}

fn decode_uri(uri: &str) -> Result<Vec<u8>, String> {
    let Some(rest) = uri.strip_prefix("data:") else {
        let shown: String = uri.chars().take(60).collect();
        return Err(format!("it points to the file {shown:?}; a GLB's bytes lie in its binary chunk or in data: URIs"));
    };
    let Some((_, text)) = rest.split_once(";base64,") else { return Err("its data: URI is not base64".to_string()) };
    base64::engine::general_purpose::STANDARD.decode(text).map_err(|error| format!("its data: URI is not base64: {error}"))
}
