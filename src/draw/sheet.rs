use super::{
    area::{Area, side_px},
    cell::{LaidCell, ProofCell},
    ink::{BLACK, WHITE},
    outline::fill,
    text::Type,
};
use crate::picture::RgbImage;

/// A page of frames to judge a shot by, a deliverable a row.
#[derive(Debug, Clone, Default)]
pub struct ProofSheet<'a> {
    /// Lines at the top, the first one large: clip, range, capture mode.
    pub title: Vec<String>,
    /// The deliverables.
    pub rows: Vec<ProofRow<'a>>,
    /// Lines at the bottom: limits used, where the numbers come from.
    pub footer: Vec<String>,
}

/// One deliverable of a proof sheet.
#[derive(Debug, Clone, Default)]
pub struct ProofRow<'a> {
    /// Lines above the row, the first one larger: name, shape, raster, E with its band, verdict.
    pub heading: Vec<String>,
    /// The frames: start, worst, widest, end. More than four go on in further strips.
    pub cells: Vec<ProofCell<'a>>,
}

const MARGIN_PX: i32 = 40;
const GAP_PX: i32 = 24;
const CELL_PX: i32 = 480;
/// Four frames make a page about 2,000 px wide, which a phone shows whole and a printer prints at 180 px an
/// inch and more.
const GREATEST_COLUMNS: usize = 4;
const LEAST_COLUMNS: usize = 2;
const LINES_PER_TEXT: usize = 4;
/// Beyond this, many programs refuse to open a picture.
const GREATEST_HEIGHT_PX: i32 = 30_000;
const RULE_PX: i32 = 2;

const TITLE: Type = Type::of_px(38);
const HEADING: Type = Type::of_px(30);
const TEXT: Type = Type::of_px(24);

/// Draws a proof sheet: black on white, about 2,070 px wide for four frames in a row.
///
/// Each frame is shown whole in a square of 480 px, darkened outside its window. The window's outline is
/// white between black lines, the subject's box thin and dashed, the spare capture px are written on each
/// side where there is room. A sheet beyond 30,000 px in height is cut off between strips, and its last line
/// says so.
#[must_use]
pub fn proof_sheet(sheet: &ProofSheet<'_>) -> RgbImage {
    let most_cells = sheet.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
    let columns = most_cells.clamp(LEAST_COLUMNS, GREATEST_COLUMNS);
    let count = i32::try_from(columns).unwrap_or(1);
    let width = 2 * MARGIN_PX + count * CELL_PX + (count - 1) * GAP_PX;
    let page = Page { columns, width };
    let blocks = page.within_height(page.blocks(sheet));
    let height = blocks.iter().map(Block::height).sum::<i32>() + 2 * MARGIN_PX;
    let mut canvas = RgbImage::from_pixel(side_px(width), side_px(height), WHITE);
    let mut top = MARGIN_PX;
    for block in &blocks {
        block.draw(&mut canvas, top);
        top += block.height();
    }
    canvas
}

/// What stands on a page, from top to bottom.
enum Block<'a> {
    /// Lines of text.
    Text { face: Type, lines: Vec<String> },
    /// A rule between deliverables.
    Rule,
    /// Frames side by side.
    Strip(Vec<LaidCell<'a>>),
}

impl Block<'_> {
    fn height(&self) -> i32 {
        match self {
            Self::Text { face, lines } => {
                i32::try_from(lines.len()).unwrap_or(0) * face.line_height()
            }
            Self::Rule => 2 * GAP_PX + RULE_PX,
            Self::Strip(cells) => {
                let (above, rest) = strip_heights(cells);
                above + rest
            }
        }
    }

    fn draw(&self, canvas: &mut RgbImage, top: i32) {
        match self {
            Self::Text { face, lines } => {
                let mut top = top;
                for line in lines {
                    face.draw(canvas, (MARGIN_PX, top), BLACK, line);
                    top += face.line_height();
                }
            }
            Self::Rule => {
                let width = Area::of(canvas).width() - 2 * MARGIN_PX;
                fill(canvas, Area::sized((MARGIN_PX, top + GAP_PX), (width, RULE_PX)), BLACK);
            }
            Self::Strip(cells) => {
                let (above, _) = strip_heights(cells);
                let mut left = MARGIN_PX;
                for cell in cells {
                    cell.draw(canvas, (left, top + above));
                    left += CELL_PX + GAP_PX;
                }
            }
        }
    }
}

/// The tallest caption, and the tallest of what follows, so that pictures stand in line.
fn strip_heights(cells: &[LaidCell<'_>]) -> (i32, i32) {
    let heights = cells.iter().map(LaidCell::heights);
    heights.fold((0, 0), |most, height| (most.0.max(height.0), most.1.max(height.1)))
}

#[derive(Debug, Clone, Copy)]
struct Page {
    columns: usize,
    width: i32,
}

impl Page {
    fn text<'a>(self, text: &str, face: Type) -> Block<'a> {
        let lines = face.wrapped(text, self.width - 2 * MARGIN_PX, LINES_PER_TEXT);
        Block::Text { face, lines }
    }

    /// A block a text, the first of them in a type of its own.
    fn texts<'a>(self, texts: &[String], first: Type) -> impl Iterator<Item = Block<'a>> {
        let faces = std::iter::once(first).chain(std::iter::repeat(TEXT));
        texts.iter().zip(faces).map(move |(text, face)| self.text(text, face))
    }

    fn blocks<'a>(self, sheet: &'a ProofSheet<'a>) -> Vec<Block<'a>> {
        let mut blocks: Vec<Block<'a>> = self.texts(&sheet.title, TITLE).collect();
        for row in &sheet.rows {
            blocks.push(Block::Rule);
            blocks.extend(self.texts(&row.heading, HEADING));
            for cells in row.cells.chunks(self.columns) {
                let laid = cells.iter().map(|cell| LaidCell::new(cell, CELL_PX));
                blocks.push(Block::Strip(laid.collect()));
            }
        }
        if !sheet.footer.is_empty() {
            blocks.push(Block::Rule);
            blocks.extend(self.texts(&sheet.footer, TEXT));
        }
        blocks
    }

    /// The blocks that a picture can hold, and a line about the others.
    fn within_height(self, mut blocks: Vec<Block<'_>>) -> Vec<Block<'_>> {
        let mut height = 0;
        let room = GREATEST_HEIGHT_PX - 2 * MARGIN_PX - 2 * TEXT.line_height();
        let fitting = blocks.iter().take_while(|block| {
            height += block.height();
            height <= room
        });
        let kept = fitting.count();
        if kept < blocks.len() {
            let strips = |blocks: &[Block<'_>]| {
                blocks.iter().filter(|block| matches!(block, Block::Strip(_))).count()
            };
            let (shown, all) = (strips(&blocks[..kept]), strips(&blocks));
            blocks.truncate(kept);
            let text = format!(
                "the sheet ends here: {shown} of {all} strips of frames fit in a picture {GREATEST_HEIGHT_PX} px tall"
            );
            blocks.push(self.text(&text, TEXT));
        }
        blocks
    }
}

#[cfg(test)]
mod tests;
