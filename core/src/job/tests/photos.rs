//! Photos: what the state shows of them, and where they lie in a file.

use super::*;
use crate::job::{
    Conclusions, JobParts, MAX_PHOTO_BYTES, Opening, PHOTOS_END, PHOTOS_SEPARATOR, PhotoError,
    PhotoFormat, PhotoHash, PhotoHeader, PhotosScan, Taken, photo_line, read_photo_line,
    with_photos, write_file,
};

/// A PNG of one pixel, with a signature, a header and nothing else, which is all that is read of it.
fn png(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    bytes.extend(width.to_be_bytes());
    bytes.extend(height.to_be_bytes());
    bytes.extend([8, 2, 0, 0, 0, 0, 0, 0, 0]);
    bytes
}

fn photographed(of: &[u8], instead_of: Option<EntryId>) -> EntryKind {
    EntryKind::Photographed {
        sha256: PhotoHash::of(of),
        bytes: of.len() as u32,
        on: Subject::Whole,
        step: None,
        fault: None,
        taken: Taken::Before,
        caption: String::new(),
        instead_of,
    }
}

fn shown(job: &Job) -> Vec<PhotoHash> {
    job.state().photos().map(|p| p.sha256).collect()
}

#[test]
fn a_photo_that_is_replaced_comes_back_with_the_undo_of_the_other() {
    let phone = ReplicaId::new(7);
    let mut job = Job::new();
    let mut put = |kind| {
        let entry = job.draft(phone, 1_000, kind);
        job.apply(entry.clone());
        (job.clone(), entry.id)
    };
    let (_, first) = put(photographed(b"a", None));
    let (job_of_b, second) = put(photographed(b"b", Some(first)));
    assert_eq!(shown(&job_of_b), [PhotoHash::of(b"b")]);
    let (undone, _) = put(EntryKind::Undo { entry: second });
    assert_eq!(shown(&undone), [PhotoHash::of(b"a")]);
    assert_eq!(undone.state().photo_hashes().len(), 2);
    assert_eq!(undone.state(), &State::folded(undone.log()));
}

#[test]
fn a_photo_cannot_replace_a_later_one() {
    let mut job = Job::new();
    let later = EntryId {
        replica: ReplicaId::new(7),
        seq: 2,
    };
    job.apply(job.draft(ReplicaId::new(7), 1_000, photographed(b"a", Some(later))));
    job.apply(job.draft(ReplicaId::new(7), 2_000, photographed(b"b", None)));
    assert_eq!(shown(&job).len(), 2);
}

#[test]
fn what_is_no_photo_is_refused_by_its_bytes() {
    let refused = |bytes: &[u8]| PhotoHeader::read(bytes).expect_err("no photo");
    assert_eq!(refused(b""), PhotoError::OtherFormat);
    assert_eq!(
        refused(b"<svg xmlns='http://www.w3.org/2000/svg'/>"),
        PhotoError::OtherFormat
    );
    assert_eq!(
        refused(b"<!doctype html><script>alert(1)</script>"),
        PhotoError::OtherFormat
    );
    assert_eq!(
        refused(b"GIF89a\x01\0\x01\0\0\0\0"),
        PhotoError::OtherFormat
    );
    assert_eq!(
        refused(b"\xff\xd8\xff\xe0\0\x10JFIF\0\x01\x01\0\0\x01\0\x01\0\0\xff\xdb\0C"),
        PhotoError::Broken
    );
    assert_eq!(refused(&png(30_000, 30_000)), PhotoError::TooManyPixels);
    assert_eq!(refused(&png(u32::MAX, u32::MAX)), PhotoError::TooManyPixels);
    assert_eq!(refused(&png(0, 8)), PhotoError::Broken);
    let whole = PhotoHeader::read(&png(6_000, 4_000)).expect("24 megapixels");
    assert_eq!(
        (whole.format, whole.width, whole.height),
        (PhotoFormat::Png, 6_000, 4_000)
    );
}

#[test]
fn a_line_of_a_file_is_believed_by_its_bytes_alone() {
    let bytes = png(8, 8);
    let hash = PhotoHash::of(&bytes);
    let line = photo_line(hash, PhotoFormat::Png, &bytes);
    let (read, header, back) = read_photo_line(line.as_bytes()).expect("as written");
    assert_eq!(
        (read, header.format, back),
        (hash, PhotoFormat::Png, bytes.clone())
    );

    let other = photo_line(PhotoHash::of(b"another"), PhotoFormat::Png, &bytes);
    assert_eq!(
        read_photo_line(other.as_bytes()),
        Err(PhotoError::OtherHash)
    );
    let script = b"<script>alert(1)</script>";
    let html = photo_line(PhotoHash::of(script), PhotoFormat::Png, script);
    assert_eq!(
        read_photo_line(html.as_bytes()),
        Err(PhotoError::OtherFormat)
    );
    let large = vec![0xff; MAX_PHOTO_BYTES + 1];
    let large = photo_line(PhotoHash::of(&large), PhotoFormat::Jpeg, &large);
    assert_eq!(read_photo_line(large.as_bytes()), Err(PhotoError::TooLarge));
    let bomb = format!(
        r#"{{"sha256":"{hash}","type":"image/png","base64":"{}"}}"#,
        "A".repeat(9 << 20)
    );
    assert_eq!(read_photo_line(bomb.as_bytes()), Err(PhotoError::TooLarge));
    let no_base64 = format!(r#"{{"sha256":"{hash}","type":"image/png","base64":"*"}}"#);
    assert_eq!(
        read_photo_line(no_base64.as_bytes()),
        Err(PhotoError::NotALine)
    );
    assert_eq!(read_photo_line(b"[]"), Err(PhotoError::NotALine));
}

/// A job file with two photos.
fn file() -> (String, String, [Vec<u8>; 2]) {
    let mut job = Job::new();
    job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::Made { job: JobId::new(1) }));
    let photos = [png(8, 8), png(9, 9)];
    for bytes in &photos {
        job.apply(job.draft(ReplicaId::new(7), 0, photographed(bytes, None)));
    }
    let plain = write_file(&job, 0, Conclusions::default());
    let lines = photos
        .each_ref()
        .map(|bytes| photo_line(PhotoHash::of(bytes), PhotoFormat::Png, bytes));
    let whole = with_photos(plain.clone()) + &lines.join(PHOTOS_SEPARATOR) + PHOTOS_END;
    (plain, whole, photos)
}

fn scanned(text: &[u8], slice: usize) -> JobParts {
    let mut scan = PhotosScan::new();
    text.chunks(slice).for_each(|slice| scan.read_on(slice));
    scan.finish()
}

#[test]
fn a_file_with_photos_is_json_and_its_parts_are_found_in_slices_of_any_size() {
    let (plain, whole, photos) = file();
    let json: serde_json::Value = serde_json::from_str(&whole).expect("JSON");
    assert_eq!(json["photos"].as_array().map(Vec::len), Some(2));
    for slice in [1, 7, 1_000, whole.len()] {
        let parts = scanned(whole.as_bytes(), slice);
        assert!(parts.has_photos && !parts.is_torn);
        assert_eq!(whole[..parts.job as usize].to_owned() + "\n}", plain);
        let read = parts.lines.iter().map(|line| {
            let line = &whole[line.start as usize..line.end as usize];
            read_photo_line(line.as_bytes()).expect("as written").2
        });
        assert!(read.eq(photos.iter().cloned()));
    }
    assert_eq!(scanned(plain.as_bytes(), 100).job, plain.len() as u64);
}

#[test]
fn a_file_that_breaks_off_in_its_photos_keeps_its_job() {
    let (plain, whole, _) = file();
    let job = scanned(whole.as_bytes(), whole.len()).job as usize;
    for end in job + 20..whole.len() {
        let parts = scanned(&whole.as_bytes()[..end], 64);
        assert!(parts.is_torn, "cut at {end} of {}", whole.len());
        let job = whole[..parts.job as usize].to_owned() + "\n}";
        assert_eq!(job, plain);
        assert!(Opening::begin(job.as_bytes()).is_ok());
        assert!(parts.lines.iter().all(|line| line.end <= end as u64));
    }
}

#[test]
fn what_a_remark_says_is_not_taken_for_the_list_of_photos() {
    let mut job = Job::new();
    let text = ",\n  \"photos\": [\n".to_owned();
    let remark = EntryKind::Remark {
        on: Subject::Whole,
        step: None,
        fault: false,
        text,
    };
    job.apply(job.draft(ReplicaId::new(7), 0, remark));
    let plain = write_file(&job, 0, Conclusions::default());
    assert!(!scanned(plain.as_bytes(), 100).has_photos);
}
