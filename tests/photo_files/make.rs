//! Small files made on the spot.

use std::io::Cursor;

use image::{DynamicImage, ImageBuffer, ImageFormat, Luma, Rgb};

pub(crate) const WIDTH: u32 = 40;
pub(crate) const HEIGHT: u32 = 30;

/// A smooth picture whose four corners differ.
pub(crate) fn pixel(x: u32, y: u32) -> [u8; 3] {
    [40 + 4 * x, 60 + 5 * y, 200 - 2 * x - 2 * y].map(|v| u8::try_from(v).unwrap())
}

fn picture() -> DynamicImage {
    ImageBuffer::from_fn(WIDTH, HEIGHT, |x, y| Rgb(pixel(x, y))).into()
}

fn write(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, format).unwrap();
    out.into_inner()
}

pub(crate) fn encoded(format: ImageFormat) -> Vec<u8> {
    write(&picture(), format)
}

pub(crate) fn tiny_png() -> Vec<u8> {
    write(&DynamicImage::new_rgb8(3, 3), ImageFormat::Png)
}

pub(crate) fn grey_jpeg() -> Vec<u8> {
    let grey = ImageBuffer::from_fn(WIDTH, HEIGHT, |x, y| Luma([pixel(x, y)[0]]));
    write(&grey.into(), ImageFormat::Jpeg)
}

/// Red 0x8080 in the first pixel, one more in the next.
pub(crate) fn sixteen_bit_png() -> Vec<u8> {
    let wide = ImageBuffer::from_fn(WIDTH, HEIGHT, |x, _| Rgb([0x8080 + u16::try_from(x).unwrap(), 0, 0]));
    write(&DynamicImage::ImageRgb16(wide), ImageFormat::Png)
}

/// The picture as TIFF of floating-point values, with an opacity where asked.
pub(crate) fn float_tiff(opacity: bool) -> Vec<u8> {
    let rgb = picture().into_rgb32f();
    let picture: DynamicImage = if opacity { DynamicImage::from(rgb).into_rgba32f().into() } else { rgb.into() };
    write(&picture, ImageFormat::Tiff)
}

/// An EXIF block (little-endian TIFF) with orientation, time and offset: EXIF 2.32 tags 0x0112, 0x9003, 0x9011.
pub(crate) fn exif(orientation: u16, time: &str, offset: &str) -> Vec<u8> {
    let mut out = b"II*\0\x08\0\0\0".to_vec();
    let entry = |tag: u16, kind: u16, count: usize, value: u32| {
        let mut e = tag.to_le_bytes().to_vec();
        e.extend(kind.to_le_bytes());
        e.extend(u32::try_from(count).unwrap().to_le_bytes());
        e.extend(value.to_le_bytes());
        e
    };
    // First directory: orientation and the place of the EXIF directory, right behind it.
    out.extend(2u16.to_le_bytes());
    out.extend(entry(0x0112, 3, 1, u32::from(orientation)));
    out.extend(entry(0x8769, 4, 1, 38));
    out.extend(0u32.to_le_bytes());
    // EXIF directory at 38: two entries, 30 bytes, then the texts.
    out.extend(2u16.to_le_bytes());
    out.extend(entry(0x9003, 2, time.len() + 1, 68));
    out.extend(entry(0x9011, 2, offset.len() + 1, 68 + u32::try_from(time.len() + 1).unwrap()));
    out.extend(0u32.to_le_bytes());
    out.extend(time.bytes().chain([0]));
    out.extend(offset.bytes().chain([0]));
    out
}

/// The picture as JPEG with an EXIF block (APP1, EXIF 2.32 section 4.7.2).
pub(crate) fn jpeg_with_exif(block: &[u8]) -> Vec<u8> {
    let plain = encoded(ImageFormat::Jpeg);
    let length = u16::try_from(block.len() + 8).unwrap().to_be_bytes();
    [&plain[..2], &[0xff, 0xe1], &length, b"Exif\0\0", block, &plain[2..]].concat()
}

/// An uncompressed 16 × 16 grey TIFF (TIFF 6.0 sections 2 and 4) with DateTime, and more tags where asked.
fn tiff(time: &str, more: &[(u16, u16, u32, u32)]) -> Vec<u8> {
    let entries = 9 + more.len();
    let text_at = u32::try_from(8 + 2 + 12 * entries + 4).unwrap();
    let pixels_at = text_at + u32::try_from(time.len() + 1).unwrap();
    let mut tags = vec![
        (0x0100, 3, 1, 16),
        (0x0101, 3, 1, 16),
        (0x0102, 3, 1, 8),
        (0x0103, 3, 1, 1),
        (0x0106, 3, 1, 1),
        (0x0111, 4, 1, pixels_at),
        (0x0116, 3, 1, 16),
        (0x0117, 4, 1, 256),
        (0x0132, 2, u32::try_from(time.len() + 1).unwrap(), text_at),
    ];
    tags.extend(more);
    let mut out = b"II*\0\x08\0\0\0".to_vec();
    out.extend(u16::try_from(entries).unwrap().to_le_bytes());
    for (tag, kind, count, value) in tags {
        out.extend(u16::to_le_bytes(tag));
        out.extend(u16::to_le_bytes(kind));
        out.extend(u32::to_le_bytes(count));
        out.extend(u32::to_le_bytes(value));
    }
    out.extend([0; 4]);
    out.extend(time.bytes().chain([0]));
    out.extend([128; 256]);
    out
}

pub(crate) fn tiff_with_time(time: &str) -> Vec<u8> {
    tiff(time, &[])
}

/// An uncompressed 16 × 16 TIFF in printing colours (TIFF 6.0 section 16): cyan ink alone, half of it.
pub(crate) fn printing_tiff() -> Vec<u8> {
    let pixels_at = 8 + 2 + 12 * 9 + 4 + 8;
    let tags: [(u16, u16, u32, u32); 9] = [
        (0x0100, 3, 1, 16),
        (0x0101, 3, 1, 16),
        // Four numbers do not fit into the entry and stand behind the directory.
        (0x0102, 3, 4, pixels_at - 8),
        (0x0103, 3, 1, 1),
        (0x0106, 3, 1, 5),
        (0x0111, 4, 1, pixels_at),
        (0x0115, 3, 1, 4),
        (0x0116, 3, 1, 16),
        (0x0117, 4, 1, 4 * 256),
    ];
    let mut out = b"II*\0\x08\0\0\0".to_vec();
    out.extend(9u16.to_le_bytes());
    for (tag, kind, count, value) in tags {
        out.extend(tag.to_le_bytes());
        out.extend(kind.to_le_bytes());
        out.extend(count.to_le_bytes());
        out.extend(value.to_le_bytes());
    }
    out.extend([0; 4]);
    out.extend([8, 0].repeat(4));
    out.extend([128, 0, 0, 0].repeat(256));
    out
}

/// The same with DNGVersion 1.4 (DNG specification, tag 50706).
pub(crate) fn digital_negative() -> Vec<u8> {
    tiff("2026:05:02 10:30:00", &[(0xc612, 1, 4, 0x0000_0401)])
}

/// A PNG whose header claims a size that its few bytes cannot hold.
pub(crate) fn png_claiming(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = tiny_png();
    bytes[16..20].copy_from_slice(&width.to_be_bytes());
    bytes[20..24].copy_from_slice(&height.to_be_bytes());
    let crc = crc32(&bytes[12..29]).to_be_bytes();
    bytes[29..33].copy_from_slice(&crc);
    bytes
}

/// CRC-32 as PNG uses it (PNG 1.2 annex D).
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for &b in bytes {
        crc ^= u32::from(b);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0xedb8_8320 } else { crc >> 1 };
        }
    }
    !crc
}

/// A PNG with that text as its colour profile.
pub(crate) fn png_with_profile(profile: &[u8]) -> Vec<u8> {
    use image::ImageEncoder;
    let mut out = Vec::new();
    let mut encoder = image::codecs::png::PngEncoder::new(&mut out);
    encoder.set_icc_profile(profile.to_vec()).unwrap();
    encoder.write_image(picture().as_bytes(), WIDTH, HEIGHT, image::ExtendedColorType::Rgb8).unwrap();
    out
}

/// The picture as HEIC: by libheif's `heif-enc` where that is installed, else by the reading crate's own writer.
#[cfg(feature = "heic")]
pub(crate) fn heic() -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let (png, heic) = (folder.path().join("a.png"), folder.path().join("a.heic"));
    std::fs::write(&png, encoded(ImageFormat::Png)).unwrap();
    let written = std::process::Command::new("heif-enc").args(["-q", "95", "-o"]).arg(&heic).arg(&png).output();
    if written.is_ok_and(|o| o.status.success()) {
        return std::fs::read(heic).unwrap();
    }
    let options = heifer::EncodeOptions { quality: 95, max_threads: 1 };
    heifer::encode_rgb8(WIDTH, HEIGHT, picture().as_bytes(), &options).unwrap()
}
