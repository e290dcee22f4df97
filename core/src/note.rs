//! The 88 notes of the keyboard and the sections that the breaks divide them into.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Whether a key is a natural or a sharp.
///
/// `Natural` compares less than `Sharp`. In the job file it is `natural` or `sharp`.
///
/// ```
/// use evenhand_core::note::{Color, Note};
///
/// let sharps = Note::all().filter(|note| note.color() == Color::Sharp);
/// assert_eq!(sharps.count(), 36);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Color {
    /// One of the 52 front keys.
    Natural,
    /// One of the 36 short keys between them.
    Sharp,
}

/// A note of the piano, 1 (A0) to 88 (C8).
///
/// A `Note` outside this range cannot be constructed, so indexing an array of 88 by
/// [`Note::index`] never fails. It has no default. Notes compare by pitch, the bass first.
/// It parses from a number or a name, prints as its name, and is a number in the job file.
///
/// **Rule**: scientific pitch notation with A4 as note 49; common practice, no source.
///
/// ```
/// use evenhand_core::note::{Color, Note};
///
/// let a4 = Note::new(49)?;
/// assert_eq!(a4.name(), "A4");
/// assert_eq!(a4.color(), Color::Natural);
/// assert_eq!("C#4".parse::<Note>()?.number(), 41);
/// assert!(Note::FIRST < a4);
/// assert!(Note::new(89).is_err());
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "i64", into = "i64")]
pub struct Note(u8);

/// The twelve note names, starting at A as the keyboard does.
const NAMES: [&str; 12] = [
    "A", "A♯", "B", "C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯",
];

impl Note {
    /// The number of notes, 88.
    pub const COUNT: usize = 88;
    /// The lowest note, A0.
    pub const FIRST: Note = Note(1);
    /// The highest note, C8.
    pub const LAST: Note = Note(88);

    /// Returns the note with this number.
    ///
    /// # Errors
    /// Returns [`NoteError::Number`] if the number is outside 1 to 88.
    pub fn new(number: i64) -> Result<Note, NoteError> {
        match u8::try_from(number) {
            Ok(n @ 1..=88) => Ok(Note(n)),
            _ => Err(NoteError::Number(number)),
        }
    }

    /// Returns all notes, from A0 up to C8.
    pub fn all() -> impl DoubleEndedIterator<Item = Note> + ExactSizeIterator + Clone {
        (0..88usize).map(|i| Note(i as u8 + 1))
    }

    /// Returns the number, 1 to 88.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Returns the index into an array of 88, 0 to 87.
    pub const fn index(self) -> usize {
        self.0 as usize - 1
    }

    /// Returns the note number of the MIDI 1.0 specification, 21 (A0) to 108 (C8).
    pub const fn midi(self) -> u8 {
        self.0 + 20
    }

    /// Returns the index into [`NAMES`], 0 (A) to 11 (G♯).
    const fn pitch_class(self) -> usize {
        (self.0 as usize - 1) % 12
    }

    /// Returns the octave of scientific pitch notation, 0 to 8. A new octave starts at each C.
    pub const fn octave(self) -> u8 {
        (self.0 + 8) / 12
    }

    /// Returns the letter, the sharp sign and the octave, such as `C♯4`. Never spelled with a flat.
    pub fn name(self) -> String {
        format!("{}{}", NAMES[self.pitch_class()], self.octave())
    }

    /// Returns whether the key is a natural or a sharp.
    pub const fn color(self) -> Color {
        match self.pitch_class() {
            1 | 4 | 6 | 9 | 11 => Color::Sharp,
            _ => Color::Natural,
        }
    }

    /// Returns `true` if the key is a sharp.
    pub const fn is_sharp(self) -> bool {
        matches!(self.color(), Color::Sharp)
    }

    /// Returns the next note up, or `None` for C8.
    pub const fn up(self) -> Option<Note> {
        if self.0 < 88 {
            Some(Note(self.0 + 1))
        } else {
            None
        }
    }

    /// Returns the next note down, or `None` for A0.
    pub const fn down(self) -> Option<Note> {
        if self.0 > 1 {
            Some(Note(self.0 - 1))
        } else {
            None
        }
    }

    /// Returns the sharps directly beside a natural, the lower first: none, one or two. Empty for a sharp.
    ///
    /// ```
    /// # use evenhand_core::note::Note;
    /// let d4 = "D4".parse::<Note>()?;
    /// let beside: Vec<String> = d4.neighboring_sharps().map(Note::name).collect();
    /// assert_eq!(beside, ["C♯4", "D♯4"]);
    /// # Ok::<(), evenhand_core::note::NoteError>(())
    /// ```
    pub fn neighboring_sharps(self) -> impl Iterator<Item = Note> {
        let beside = [self.down(), self.up()];
        let natural = !self.is_sharp();
        beside
            .into_iter()
            .flatten()
            .filter(move |n| natural && n.is_sharp())
    }

    /// Parses several notes, each a number or a name, separated by commas, semicolons or spaces.
    ///
    /// Keeps the order and the repetitions of the text; an empty text gives no notes.
    ///
    /// ```
    /// # use evenhand_core::note::Note;
    /// let read: Vec<u8> = Note::read_list("20, E4; 72")?.into_iter().map(Note::number).collect();
    /// assert_eq!(read, [20, 44, 72]);
    /// assert!(Note::read_list(" ")?.is_empty());
    /// # Ok::<(), evenhand_core::note::NoteError>(())
    /// ```
    ///
    /// # Errors
    /// Returns the [`NoteError`] of the first part that is not a note.
    pub fn read_list(text: &str) -> Result<Vec<Note>, NoteError> {
        let parts = text.split([',', ';', ' ']).filter(|part| !part.is_empty());
        parts.map(str::parse).collect()
    }

    /// Returns the frequency in hertz in equal temperament, for a given pitch of A4 in hertz.
    ///
    /// **Rule**: each semitone is a factor of the twelfth root of two; A4 is note 49.
    /// **Error**: real pianos are tuned stretched, so this is a reference and not a tuning.
    ///
    /// ```
    /// # use evenhand_core::note::Note;
    /// assert_eq!(Note::new(49)?.frequency_hz(440.0), 440.0);
    /// # Ok::<(), evenhand_core::note::NoteError>(())
    /// ```
    pub fn frequency_hz(self, a4_hz: f64) -> f64 {
        a4_hz * 2f64.powf((f64::from(self.0) - 49.0) / 12.0)
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.name())
    }
}

impl TryFrom<i64> for Note {
    type Error = NoteError;
    fn try_from(number: i64) -> Result<Note, NoteError> {
        Note::new(number)
    }
}

impl From<Note> for i64 {
    fn from(note: Note) -> i64 {
        i64::from(note.0)
    }
}

impl std::str::FromStr for Note {
    type Err = NoteError;

    /// Parses a number (`41`) or a name (`C#4`, `c♯4`, `Db4`).
    ///
    /// # Errors
    /// Returns [`NoteError::Number`] for a number outside 1 to 88 and [`NoteError::Name`] for any
    /// other text that is not a note.
    fn from_str(text: &str) -> Result<Note, NoteError> {
        let refuse = || NoteError::Name(text.chars().take(20).collect());
        let text = text.trim();
        if let Ok(number) = text.parse::<i64>() {
            return Note::new(number);
        }
        let mut chars = text.chars();
        let from_c = match chars.next().map(|c| c.to_ascii_uppercase()) {
            Some('C') => 0,
            Some('D') => 2,
            Some('E') => 4,
            Some('F') => 5,
            Some('G') => 7,
            Some('A') => 9,
            Some('B') => 11,
            _ => return Err(refuse()),
        };
        let rest = chars.as_str();
        let (shift, octave) = match rest.chars().next() {
            Some('#' | '♯') => (1, rest.trim_start_matches(['#', '♯'])),
            Some('b' | '♭') => (-1, rest.trim_start_matches(['b', '♭'])),
            _ => (0, rest),
        };
        let octave: i64 = match octave.as_bytes() {
            [d @ b'0'..=b'9'] => i64::from(d - b'0'),
            _ => return Err(refuse()),
        };
        Note::new(octave * 12 + from_c + shift - 8).map_err(|_| refuse())
    }
}

/// The error for a number or a name that is not one of the 88 notes.
///
/// It displays as a sentence that names the bad value and the allowed range.
///
/// ```
/// use evenhand_core::note::{Note, NoteError};
///
/// assert_eq!(Note::new(89), Err(NoteError::Number(89)));
/// assert_eq!("H4".parse::<Note>(), Err(NoteError::Name("H4".to_owned())));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoteError {
    /// The number is outside 1 to 88.
    Number(i64),
    /// The text is not the name of a note; holds the text, cut to 20 characters.
    Name(String),
}

impl fmt::Display for NoteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoteError::Number(n) => write!(
                f,
                "There is no note {n}. The notes run from 1 (A0) to 88 (C8)."
            ),
            NoteError::Name(t) => write!(
                f,
                "“{t}” is not a note. Use a number from 1 to 88 or a name such as C♯4, from A0 to C8."
            ),
        }
    }
}

impl std::error::Error for NoteError {}

/// The sections of the scale, divided at the breaks (the struts of the plate).
///
/// Stored as the last note of each section except the highest, so that the sections
/// always cover all 88 notes without gap or overlap. There are 1 to [`Sections::MAX`]
/// sections, counted from 0 in the bass. The default is one section without a break.
/// In the job file it is the list of these last notes.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
///
/// let sections = Sections::new([20, 52, 72].map(|n| Note::new(n).unwrap()))?;
/// assert_eq!(sections.count(), 4);
/// assert_eq!(sections.of(Note::new(21)?), 1);
/// assert_eq!(Sections::default().count(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(try_from = "Vec<Note>", into = "Vec<Note>")]
pub struct Sections {
    breaks: Vec<Note>,
}

impl Sections {
    /// The largest number of sections that is accepted, 8; a plate has three to six (common practice, no source).
    pub const MAX: usize = 8;

    /// Creates sections divided after each of the given notes.
    ///
    /// # Errors
    /// Returns [`SectionsError`] if the breaks do not rise, if a break stands after C8, or if there
    /// would be more than [`Sections::MAX`] sections.
    pub fn new(breaks: impl IntoIterator<Item = Note>) -> Result<Sections, SectionsError> {
        let breaks: Vec<Note> = breaks.into_iter().take(Sections::MAX + 1).collect();
        if breaks.len() >= Sections::MAX {
            return Err(SectionsError::TooMany);
        }
        if let Some(w) = breaks.windows(2).find(|w| w[0] >= w[1]) {
            return Err(SectionsError::NotRising(w[0], w[1]));
        }
        if breaks.last() == Some(&Note::LAST) {
            return Err(SectionsError::AfterLast);
        }
        Ok(Sections { breaks })
    }

    /// Returns the number of sections, 1 to [`Sections::MAX`].
    pub fn count(&self) -> usize {
        self.breaks.len() + 1
    }

    /// Returns the section of a note, counted from 0 in the bass.
    pub fn of(&self, note: Note) -> usize {
        self.breaks.partition_point(|&b| b < note)
    }

    /// Returns the section ends: the first and the last note of a section. Returns `None` if there
    /// is no such section.
    ///
    /// ```
    /// # use evenhand_core::note::{Note, Sections};
    /// let sections = Sections::new([Note::new(20)?])?;
    /// assert_eq!(sections.ends(1), Some((Note::new(21)?, Note::LAST)));
    /// assert_eq!(sections.ends(2), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn ends(&self, section: usize) -> Option<(Note, Note)> {
        if section >= self.count() {
            return None;
        }
        let first = match section.checked_sub(1) {
            Some(before) => self.breaks[before].up().unwrap_or(Note::LAST),
            None => Note::FIRST,
        };
        let last = self.breaks.get(section).copied().unwrap_or(Note::LAST);
        Some((first, last))
    }

    /// Returns the last note below each break, rising. Empty if there is one section.
    pub fn breaks(&self) -> &[Note] {
        &self.breaks
    }

    /// Returns the first and the last note of every section, rising: where string heights are measured.
    ///
    /// A section of one note gives that note once.
    ///
    /// ```
    /// # use evenhand_core::note::{Note, Sections};
    /// let sections = Sections::new([Note::new(20)?])?;
    /// let ends: Vec<u8> = sections.all_ends().into_iter().map(Note::number).collect();
    /// assert_eq!(ends, [1, 20, 21, 88]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn all_ends(&self) -> Vec<Note> {
        let mut ends: Vec<Note> = (0..self.count())
            .filter_map(|s| self.ends(s))
            .flat_map(|(a, b)| [a, b])
            .collect();
        ends.dedup();
        ends
    }
}

impl TryFrom<Vec<Note>> for Sections {
    type Error = SectionsError;
    fn try_from(breaks: Vec<Note>) -> Result<Sections, SectionsError> {
        Sections::new(breaks)
    }
}

impl From<Sections> for Vec<Note> {
    fn from(sections: Sections) -> Vec<Note> {
        sections.breaks
    }
}

/// The error for breaks that do not divide the 88 notes.
///
/// It displays as a sentence that says how to give the breaks.
///
/// ```
/// use evenhand_core::note::{Note, Sections, SectionsError};
///
/// assert_eq!(Sections::new([Note::LAST]), Err(SectionsError::AfterLast));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SectionsError {
    /// Two consecutive breaks are in the wrong order or on the same note; holds both.
    NotRising(Note, Note),
    /// A break stands after C8, where there is no note above it.
    AfterLast,
    /// There would be more than [`Sections::MAX`] sections.
    TooMany,
}

impl fmt::Display for SectionsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SectionsError::NotRising(a, b) => write!(
                f,
                "The break after {b} comes after the break after {a}. Type the breaks from bass to treble, each once."
            ),
            SectionsError::AfterLast => {
                write!(f, "There is nothing above C8, so no break can follow it.")
            }
            SectionsError::TooMany => {
                write!(f, "There can be at most {} sections.", Sections::MAX)
            }
        }
    }
}

impl std::error::Error for SectionsError {}

#[cfg(test)]
mod tests;
