//! Photos: what an entry says of one, and what its bytes must be.

use std::fmt;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use imagesize::ImageType;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};

use super::id::EntryError;

/// The most photos of a job.
pub const MAX_PHOTOS: usize = 200;
/// The largest photo that is stored, in bytes (1 MiB).
pub const MAX_PHOTO_BYTES: usize = 1 << 20;
/// The most pixels of a photo that is decoded: 24 megapixels. A larger one could fill the memory of a phone.
pub const MAX_PHOTO_PIXELS: u64 = 24_000_000;
/// The longest side of a photo that is stored, in pixels.
pub const MAX_PHOTO_SIDE: u32 = 1_600;

/// The SHA-256 of the bytes of a photo, which names it.
///
/// It has no default, and its order has no meaning. It prints and parses as 64 lowercase hexadecimal digits.
///
/// ```
/// use evenhand_core::job::PhotoHash;
///
/// // FIPS 180-4: the hash of "abc", from the examples of the standard.
/// let hash = PhotoHash::of(b"abc");
/// assert_eq!(hash.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
/// assert_eq!(hash.to_string().parse(), Ok(hash));
/// assert!("ba78".parse::<PhotoHash>().is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PhotoHash([u8; 32]);

impl PhotoHash {
    /// Returns the hash of these bytes.
    pub fn of(bytes: &[u8]) -> PhotoHash {
        PhotoHash(Sha256::digest(bytes).into())
    }
}

impl fmt::Display for PhotoHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl std::str::FromStr for PhotoHash {
    type Err = EntryError;
    fn from_str(text: &str) -> Result<PhotoHash, EntryError> {
        const NOT_HEX: EntryError = EntryError("its “sha256” is not 64 hexadecimal digits");
        let is_hex = |b: u8| matches!(b, b'0'..=b'9' | b'a'..=b'f');
        if text.len() != 64 || !text.bytes().all(is_hex) {
            return Err(NOT_HEX);
        }
        let mut bytes = [0; 32];
        for (at, byte) in bytes.iter_mut().enumerate() {
            *byte = u8::from_str_radix(&text[2 * at..2 * at + 2], 16).map_err(|_| NOT_HEX)?;
        }
        Ok(PhotoHash(bytes))
    }
}

impl Serialize for PhotoHash {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for PhotoHash {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<PhotoHash, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

/// When a photo was taken, by the work that it shows. There is no default; before sorts before after.
///
/// ```
/// use evenhand_core::job::Taken;
///
/// assert_eq!(Taken::ALL.map(Taken::word), ["before", "after", "as it is"]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Taken {
    /// Before the work.
    Before,
    /// After the work.
    After,
    /// Neither: it shows how something is.
    AsItIs,
}

impl Taken {
    /// Each of them, in the order in which they are offered.
    pub const ALL: [Taken; 3] = [Taken::Before, Taken::After, Taken::AsItIs];

    /// Returns the word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Taken::Before => "before",
            Taken::After => "after",
            Taken::AsItIs => "as it is",
        }
    }
}

/// The formats of a stored photo. There is no default and no order.
///
/// ```
/// use evenhand_core::job::PhotoFormat;
///
/// assert_eq!(PhotoFormat::Jpeg.media_type(), "image/jpeg");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PhotoFormat {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
    /// WebP.
    WebP,
}

impl PhotoFormat {
    /// Returns the media type.
    pub const fn media_type(self) -> &'static str {
        match self {
            PhotoFormat::Jpeg => "image/jpeg",
            PhotoFormat::Png => "image/png",
            PhotoFormat::WebP => "image/webp",
        }
    }
}

/// What the first bytes of a photo say of it. No default and no order.
///
/// ```
/// use evenhand_core::job::{PhotoError, PhotoHeader};
///
/// assert_eq!(PhotoHeader::read(b"<svg onload='alert(1)'/>"), Err(PhotoError::OtherFormat));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PhotoHeader {
    /// The format, by its signature and never by its name.
    pub format: PhotoFormat,
    /// The width in pixels.
    pub width: u32,
    /// The height in pixels.
    pub height: u32,
}

impl PhotoHeader {
    /// Reads the header of a photo, before anything of it is decoded. The size stands in the first bytes of PNG and
    /// WebP, and before the image data of JPEG.
    ///
    /// # Errors
    /// Fails if it is not JPEG, PNG or WebP by its signature, if its size cannot be read, or if it has no pixel or more
    /// than [`MAX_PHOTO_PIXELS`].
    pub fn read(bytes: &[u8]) -> Result<PhotoHeader, PhotoError> {
        let format = match imagesize::image_type(bytes) {
            Ok(ImageType::Jpeg) => PhotoFormat::Jpeg,
            Ok(ImageType::Png) => PhotoFormat::Png,
            Ok(ImageType::Webp) => PhotoFormat::WebP,
            _ => return Err(PhotoError::OtherFormat),
        };
        let size = imagesize::blob_size(bytes).map_err(|_| PhotoError::Broken)?;
        let sides = (u32::try_from(size.width), u32::try_from(size.height));
        let (Ok(width), Ok(height)) = sides else {
            return Err(PhotoError::TooManyPixels);
        };
        match u64::from(width) * u64::from(height) {
            0 => Err(PhotoError::Broken),
            1..=MAX_PHOTO_PIXELS => Ok(PhotoHeader {
                format,
                width,
                height,
            }),
            _ => Err(PhotoError::TooManyPixels),
        }
    }

    /// Reads the header of a photo that came from a file, to be stored as it is.
    ///
    /// # Errors
    /// As [`PhotoHeader::read`]; and if it has more than [`MAX_PHOTO_BYTES`], or its bytes have another hash.
    pub fn of_stored(bytes: &[u8], sha256: PhotoHash) -> Result<PhotoHeader, PhotoError> {
        if bytes.len() > MAX_PHOTO_BYTES {
            return Err(PhotoError::TooLarge);
        }
        if PhotoHash::of(bytes) != sha256 {
            return Err(PhotoError::OtherHash);
        }
        PhotoHeader::read(bytes)
    }

    /// Returns width and height so scaled that the longer side has at most [`MAX_PHOTO_SIDE`] pixels. No side falls
    /// below one pixel, and nothing is enlarged.
    ///
    /// ```
    /// use evenhand_core::job::{PhotoFormat, PhotoHeader};
    ///
    /// let of = |width, height| PhotoHeader { format: PhotoFormat::Jpeg, width, height }.scaled();
    /// assert_eq!(of(4_000, 3_000), (1_600, 1_200));
    /// assert_eq!(of(800, 600), (800, 600));
    /// assert_eq!(of(20_000, 1), (1_600, 1));
    /// ```
    pub fn scaled(self) -> (u32, u32) {
        let longer = self.width.max(self.height);
        let scaled = |side: u32| match longer {
            ..=MAX_PHOTO_SIDE => side,
            _ => {
                let side = u64::from(side) * u64::from(MAX_PHOTO_SIDE) / u64::from(longer);
                (side as u32).max(1)
            }
        };
        (scaled(self.width), scaled(self.height))
    }
}

/// Why a photo was refused. It prints as sentences for the technician.
///
/// ```
/// use evenhand_core::job::PhotoError;
///
/// assert!(PhotoError::OtherFormat.to_string().starts_with("This picture cannot be stored"));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PhotoError {
    /// It is not JPEG, PNG or WebP.
    OtherFormat,
    /// Its header cannot be read.
    Broken,
    /// It has more than [`MAX_PHOTO_PIXELS`].
    TooManyPixels,
    /// It has more than [`MAX_PHOTO_BYTES`].
    TooLarge,
    /// Its bytes have another hash than is said.
    OtherHash,
    /// The line of a file is not one of a photo.
    NotALine,
}

impl fmt::Display for PhotoError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            PhotoError::OtherFormat => "This picture cannot be stored. Take a JPEG, PNG or WebP.",
            PhotoError::Broken => "The photo is damaged and was not stored. Take it again.",
            PhotoError::TooManyPixels => {
                "The photo has more than 24 megapixels and was not stored. Take a smaller one."
            }
            PhotoError::TooLarge => "The photo has more than 1 MB and was not stored.",
            PhotoError::OtherHash => {
                "The photo is not the one that the job names, and was not stored."
            }
            PhotoError::NotALine => "The photo cannot be read in this file.",
        })
    }
}

impl std::error::Error for PhotoError {}

/// A photo as one line of a job file.
#[derive(Serialize, Deserialize)]
struct Line<'a> {
    sha256: PhotoHash,
    #[serde(rename = "type")]
    media_type: &'a str,
    base64: &'a str,
}

/// The longest line of a photo in a job file, in bytes: the base64 of [`MAX_PHOTO_BYTES`], and what is around it.
pub const MAX_PHOTO_LINE: usize = MAX_PHOTO_BYTES / 3 * 4 + 4_096;

/// Returns a photo as one line of a job file, without the comma.
///
/// ```
/// use evenhand_core::job::{PhotoFormat, PhotoHash, photo_line, read_photo_line};
///
/// let line = photo_line(PhotoHash::of(b"abc"), PhotoFormat::Jpeg, b"abc");
/// assert!(line.ends_with(r#""type":"image/jpeg","base64":"YWJj"}"#));
/// // Three bytes are no photo.
/// assert!(read_photo_line(line.as_bytes()).is_err());
/// ```
pub fn photo_line(sha256: PhotoHash, format: PhotoFormat, bytes: &[u8]) -> String {
    let base64 = STANDARD.encode(bytes);
    let line = Line {
        sha256,
        media_type: format.media_type(),
        base64: &base64,
    };
    // Serializing texts cannot fail.
    serde_json::to_string(&line).unwrap_or_default()
}

/// Reads a photo from its line of a job file.
///
/// # Errors
/// Fails if the line is longer than [`MAX_PHOTO_LINE`] or not one of a photo, and as [`PhotoHeader::of_stored`].
/// The type that the line names is not believed.
pub fn read_photo_line(line: &[u8]) -> Result<(PhotoHash, PhotoHeader, Vec<u8>), PhotoError> {
    if line.len() > MAX_PHOTO_LINE {
        return Err(PhotoError::TooLarge);
    }
    let line: Line<'_> = serde_json::from_slice(line).map_err(|_| PhotoError::NotALine)?;
    let bytes = STANDARD
        .decode(line.base64)
        .map_err(|_| PhotoError::NotALine)?;
    let header = PhotoHeader::of_stored(&bytes, line.sha256)?;
    Ok((line.sha256, header, bytes))
}
