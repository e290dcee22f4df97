//! Any bytes as a photo, as its line in a file, and as the end of a file with photos: no panic, and what is taken keeps
//! to the limits.
#![no_main]

use evenhand_core::job::{
    MAX_PHOTO_BYTES, MAX_PHOTO_PIXELS, MAX_PHOTO_SIDE, MAX_PHOTOS, PhotoFormat, PhotoHash, PhotoHeader,
    PhotosScan, photo_line, read_photo_line,
};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(header) = PhotoHeader::read(bytes) {
        let pixels = u64::from(header.width) * u64::from(header.height);
        assert!((1..=MAX_PHOTO_PIXELS).contains(&pixels));
        let (width, height) = header.scaled();
        assert!((1..=MAX_PHOTO_SIDE).contains(&width) && (1..=MAX_PHOTO_SIDE).contains(&height));
        let line = photo_line(PhotoHash::of(bytes), PhotoFormat::Png, bytes);
        let read = read_photo_line(line.as_bytes());
        assert_eq!(read.is_ok(), bytes.len() <= MAX_PHOTO_BYTES);
    }
    if let Ok((hash, _, read)) = read_photo_line(bytes) {
        assert_eq!(PhotoHash::of(&read), hash);
    }
    let mut scan = PhotosScan::new();
    scan.read_on(b"{,\n  \"photos\": [\n");
    bytes.chunks(7).for_each(|slice| scan.read_on(slice));
    let parts = scan.finish();
    assert!(parts.has_photos && parts.job == 1 && parts.lines.len() <= MAX_PHOTOS);
    let end = 17 + bytes.len() as u64;
    assert!(parts.lines.iter().all(|line| line.start < line.end && line.end <= end));
});
