//! What a measure or a risk says of itself.

/// Unit of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// The file's length unit.
    Length,
    /// One over the file's length unit.
    PerLength,
    /// Degrees.
    Degrees,
    /// A plain ratio or share.
    Ratio,
    /// A count.
    Count,
}

impl Unit {
    /// The unit in words.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Length => "file units",
            Self::PerLength => "1 / file unit",
            Self::Degrees => "degrees",
            Self::Ratio => "ratio, no unit",
            Self::Count => "count",
        }
    }

    /// A value with its unit, short, for people to read.
    pub fn of(self, value: f64) -> String {
        match self {
            Self::Length => format!("{value:.4} units"),
            Self::PerLength => format!("{value:.4} per unit"),
            Self::Degrees => format!("{value:.1} deg"),
            Self::Ratio => format!("{value:.2}"),
            Self::Count => format!("{value:.0}"),
        }
    }

    /// What a column of `risk.csv` ends with to show its unit; empty for pure numbers.
    pub fn suffix(self) -> &'static str {
        match self {
            Self::Length => "_units",
            Self::PerLength => "_per_unit",
            Self::Degrees => "_deg",
            Self::Ratio | Self::Count => "",
        }
    }
}

/// A measure's or a risk's own description, from which `explain`, the column names and the
/// documentation are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct About {
    /// Name as used in columns, causes and `explain`; one word or words joined by `_`.
    pub name: &'static str,
    /// What it tells, in one sentence.
    pub tells: &'static str,
    /// Its formula.
    pub formula: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Its range and what zero means.
    pub range: &'static str,
    /// Where the formula comes from.
    pub source: &'static str,
    /// What to do about a high value.
    pub remedy: &'static str,
}

impl About {
    /// The column's name in `risk.csv`: the name with its unit.
    pub fn column(&self) -> String {
        format!("{}{}", self.name, self.unit.suffix())
    }
}
