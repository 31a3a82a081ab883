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
}

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
}
