//! A picture as a PNG file (W3C Portable Network Graphics, third edition): eight bits a channel, no alpha.

use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::io::Write;

/// The file for pixels row after row from the top; `None` where their number is not width times height.
pub fn png(pixels: &[[u8; 4]], width: u32, height: u32) -> Option<Vec<u8>> {
    if width == 0 || pixels.len() != width as usize * height as usize {
        return None;
    }
    let mut rows = ZlibEncoder::new(Vec::new(), Compression::default());
    for row in pixels.chunks(width as usize) {
        let mut line = Vec::with_capacity(1 + row.len() * 3);
        line.push(0);
        line.extend(row.iter().flat_map(|p| [p[0], p[1], p[2]]));
        rows.write_all(&line).ok()?;
    }
    let rows = rows.finish().ok()?;
    let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut head = Vec::with_capacity(13);
    head.extend(width.to_be_bytes());
    head.extend(height.to_be_bytes());
    head.extend([8, 2, 0, 0, 0]);
    for (kind, body) in [(b"IHDR", &head), (b"sRGB", &vec![0]), (b"IDAT", &rows), (b"IEND", &Vec::new())] {
        let mut sum = flate2::Crc::new();
        sum.update(kind);
        sum.update(body);
        file.extend((body.len() as u32).to_be_bytes());
        file.extend(kind);
        file.extend(body);
        file.extend(sum.sum().to_be_bytes());
    }
    Some(file)
}
