use super::template::{escaped, fill};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use std::io::{self, Write};

const TEMPLATE: &str = include_str!("mount_page.html");

/// One page of how a camera is mounted and what it will see: for a phone on location and for one sheet of paper.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MountPage {
    /// The mount.
    pub name: String,
    /// Camera, mode, way up and rate, a line each.
    pub facts: Vec<String>,
    /// What has to be set by hand, each a name and a value: `tilt`, `30.0° down`.
    pub settings: Vec<[String; 2]>,
    /// The drawn frame, as a PNG file.
    pub picture: Vec<u8>,
    /// What the drawing is told in words, for who cannot see it.
    pub picture_words: String,
    /// How the drawing is read.
    pub legend: String,
    /// What each deliverable gets.
    pub shapes: Vec<PageShape>,
    /// What would make all of them fit, or that nothing single does; `None` where they do.
    pub remedy: Option<String>,
    /// What else is to be known: how long it runs, flicker, how fast things pass.
    pub notes: Vec<String>,
    /// The cautions, the general one first.
    pub cautions: Vec<String>,
}

/// What one deliverable gets.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PageShape {
    /// Its name.
    pub name: String,
    /// `fits`, or `does not fit`, in a few words.
    pub verdict: String,
    /// Whether it does not.
    pub is_refused: bool,
    /// Everything else, a line each.
    pub lines: Vec<String>,
}

impl MountPage {
    /// Writes the page.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn write(&self, out: impl Write) -> io::Result<()> {
        let value = |name: &str| match name {
            "FIT" => self.fit(),
            "NAME" => escaped(&self.name),
            "FACTS" => self.facts.iter().map(|line| tag("p", line)).collect(),
            "SETTINGS" => self.settings.iter().map(setting).collect(),
            "PICTURE" => STANDARD.encode(&self.picture),
            "WORDS" => escaped(&self.picture_words),
            "LEGEND" => escaped(&self.legend),
            "SHAPES" => self.shapes.iter().map(PageShape::html).collect(),
            "REMEDY" => self.remedy.as_deref().map_or_else(String::new, remedy),
            "NOTES" => self.notes.iter().map(|line| tag("li", line)).collect(),
            "GENERAL" => self.cautions.first().map_or_else(String::new, |line| escaped(line)),
            _ => self.cautions.iter().skip(1).map(|line| tag("li", line)).collect(),
        };
        fill(TEMPLATE, value, out)
    }

    /// How much smaller than usual the words are printed so that all of them and the drawing stand on one sheet, and whether only
    /// the verdicts of the shapes do even so.
    fn fit(&self) -> String {
        let fits = |printed: Printed| {
            let tried = (0..=FIT_STEPS).map(|step| 1.0 - FIT_STEP * f64::from(step));
            tried.into_iter().find(|fit| self.printed_mm(*fit, printed) <= SHEET_MM)
        };
        let (fit, class) = match (fits(Printed::Everything), fits(Printed::Verdicts)) {
            (Some(fit), _) => (fit, ""),
            (None, Some(fit)) => (fit, " class=\"bare\""),
            (None, None) => (1.0 - FIT_STEP * f64::from(FIT_STEPS), " class=\"bare\""),
        };
        format!("style=\"--fit: {fit:.2}\"{class}")
    }

    /// About how high it is printed, in mm, with the drawing as small as it may be.
    fn printed_mm(&self, fit: f64, printed: Printed) -> f64 {
        let whole = WIDTH_MM / (MM_A_LETTER * fit);
        let half = (WIDTH_MM - 16.0) / 2.0 / (MM_A_LETTER * fit);
        let rows = |text: &str, letters: f64| {
            // A text of a page has far fewer letters than a number has digits for.
            let count = u32::try_from(text.chars().count()).unwrap_or(u32::MAX);
            (f64::from(count) / letters).ceil().max(1.0)
        };
        let of_shape = |shape: &PageShape| {
            let verdict = rows(&format!("{} {}", shape.name, shape.verdict), half * 0.93);
            let lines: f64 = shape.lines.iter().map(|line| rows(line, half)).sum();
            verdict * 1.06 + if printed == Printed::Everything { lines } else { 0.0 } + 0.3
        };
        let shapes: Vec<f64> = self.shapes.iter().map(of_shape).collect();
        // Blocks stay whole, so that one column may be longer by one of them.
        let longest = shapes.iter().copied().fold(0.0, f64::max);
        let in_columns = f64::midpoint(shapes.iter().sum(), longest);
        let all = |lines: &[String], letters: f64| -> f64 {
            lines.iter().map(|line| rows(line, letters)).sum()
        };
        let remedy = self.remedy.iter().map(|line| 1.5 + rows(line, whole * 0.9)).sum::<f64>();
        let cautions = all(&self.cautions, half * 1.15) / 2.0 + 3.0;
        let usual = all(&self.facts, whole) + rows(&self.legend, whole) + all(&self.notes, whole);
        let words = usual + in_columns + remedy + cautions * 0.8;
        (words + TITLES_ROWS) * MM_A_ROW * fit + LEAST_DRAWING_MM
    }
}

/// What of the shapes is printed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Printed {
    Everything,
    Verdicts,
}

/// What of this reckoning a sheet of A4 has room for; it is on the safe side by a twentieth in a browser's print of five and of
/// eight shapes.
const SHEET_MM: f64 = 290.0;
const WIDTH_MM: f64 = 190.0;

/// A letter of the words as they are usually set, 9 points high, and a row of them. Measured in a browser's print.
const MM_A_LETTER: f64 = 1.68;
const MM_A_ROW: f64 = 3.9;

/// What name, settings, headings and the space about them take, in rows.
const TITLES_ROWS: f64 = 15.0;

/// As in the page's style.
const LEAST_DRAWING_MM: f64 = 60.0;

/// Words are set down to three fifths as large: 5.4 points are small and still read.
const FIT_STEPS: u32 = 20;
const FIT_STEP: f64 = 0.02;

impl PageShape {
    fn html(&self) -> String {
        let class = if self.is_refused { " class=\"refused\"" } else { "" };
        let lines: String = self.lines.iter().map(|line| tag("p", line)).collect();
        let (name, verdict) = (escaped(&self.name), escaped(&self.verdict));
        format!("<div{class}><h3>{name} <span>{verdict}</span></h3>{lines}</div>\n")
    }
}

fn tag(name: &str, text: &str) -> String {
    format!("<{name}>{}</{name}>\n", escaped(text))
}

fn setting([name, value]: &[String; 2]) -> String {
    format!("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(name), escaped(value))
}

fn remedy(text: &str) -> String {
    format!("<p class=\"remedy\"><strong>{}</strong></p>", escaped(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(page: &MountPage) -> String {
        let mut out = Vec::new();
        page.write(&mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn what_things_are_called_is_text_and_never_part_of_the_page() {
        let hostile = "</h1><script>\"{{CAUTIONS}}&".to_owned();
        let page = MountPage {
            name: hostile.clone(),
            facts: vec![hostile.clone()],
            settings: vec![[hostile.clone(), hostile.clone()]],
            picture: vec![1, 2, 3],
            picture_words: hostile.clone(),
            legend: hostile.clone(),
            shapes: vec![PageShape {
                name: hostile.clone(),
                verdict: hostile.clone(),
                is_refused: true,
                lines: vec![hostile.clone()],
            }],
            remedy: Some(hostile.clone()),
            notes: vec![hostile.clone()],
            cautions: vec![hostile.clone(), hostile],
        };
        let page = written(&page);
        assert!(!page.contains("<script"), "a page for paper has no scripts");
        assert_eq!(page.matches("</h1>").count(), 1);
        let shown = "&lt;/h1&gt;&lt;script&gt;&quot;{{CAUTIONS}}&amp;";
        // Title, heading, a fact, both of a setting, the picture's words, the legend, three of a shape, the remedy, a note, two
        // cautions.
        assert_eq!(page.matches(shown).count(), 14);
        assert!(page.contains("src=\"data:image/png;base64,AQID\""));
    }

    #[test]
    fn the_page_is_one_sheet_of_a4_and_asks_for_nothing_from_elsewhere() {
        let page = written(&MountPage { name: "bow".to_owned(), ..MountPage::default() });
        assert!(page.contains("size: A4 portrait"));
        assert!(page.contains("<title>Mount sheet of bow</title>"));
        for outside in ["http", "url(", "<link", "@import"] {
            assert!(!page.contains(outside), "{outside}");
        }
        assert!(!page.contains("class=\"remedy\""), "nothing to mend");
        assert!(!page.contains("{{"), "every place is filled");
    }

    #[test]
    fn many_shapes_are_set_smaller_and_very_many_by_their_verdicts_alone() {
        let with = |count: usize| {
            let shape = |number: usize| PageShape {
                name: format!("shape-{number} 16:9"),
                verdict: "E 0.96, fine".to_owned(),
                is_refused: false,
                lines: vec![
                    "near 6 m: 9 to 11 % wide, top 79 to 82 % down, bottom 83 to 86 %"
                        .to_owned();
                    4
                ],
            };
            written(&MountPage { shapes: (0..count).map(shape).collect(), ..MountPage::default() })
        };
        assert!(with(2).contains("<body style=\"--fit: 1.00\">"), "few are as large as they are");
        assert!(with(24).contains("<body style=\"--fit: 0."), "many are smaller");
        assert!(!with(24).contains("class=\"bare\""));
        assert!(with(100).contains("class=\"bare\""), "and a hundred have no more than a verdict");
    }
}
