//! Drawing helpers on top of `tiny_skia`: soft ovals, smooth blobs, gradients.

use tiny_skia::{
    Color, FillRule, FilterQuality, GradientStop, LineCap, LinearGradient, Paint, Path,
    PathBuilder, Pixmap, PixmapPaint, PixmapRef, Point, RadialGradient, Rect, Shader, SpreadMode,
    Stroke, Transform,
};

/// An opaque colour from `0xRRGGBB`.
pub(crate) fn rgb(hex: u32) -> Color {
    let [_, red, green, blue] = hex.to_be_bytes();
    Color::from_rgba8(red, green, blue, 255)
}

/// A colour from `0xRRGGBB` with an opacity in `0.0..=1.0`.
pub(crate) fn rgba(hex: u32, opacity: f32) -> Color {
    let mut colour = rgb(hex);
    colour.set_alpha(opacity.clamp(0.0, 1.0));
    colour
}

/// A point in scene pixels.
pub(crate) fn pt(x: f32, y: f32) -> Point {
    Point::from_xy(x, y)
}

/// The point `share` of the way from `a` to `b`.
pub(crate) fn between(a: Point, b: Point, share: f32) -> Point {
    pt(a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share)
}

/// A straight-sided closed shape; `None` if it has no area to fill.
pub(crate) fn polygon(points: &[Point]) -> Option<Path> {
    let (first, rest) = points.split_first()?;
    let mut path = PathBuilder::new();
    path.move_to(first.x, first.y);
    for point in rest {
        path.line_to(point.x, point.y);
    }
    path.close();
    path.finish()
}

/// A closed shape with rounded corners: each given point pulls the outline its way.
pub(crate) fn blob(points: &[Point]) -> Option<Path> {
    let last = points.last()?;
    let first = points.first()?;
    let start = between(*last, *first, 0.5);
    let mut path = PathBuilder::new();
    path.move_to(start.x, start.y);
    for (index, point) in points.iter().enumerate() {
        let next = points.get(index + 1).unwrap_or(first);
        let end = between(*point, *next, 0.5);
        path.quad_to(point.x, point.y, end.x, end.y);
    }
    path.close();
    path.finish()
}

/// An upright oval.
pub(crate) fn oval(centre: Point, radius: (f32, f32)) -> Option<Path> {
    let (rx, ry) = radius;
    let rect = Rect::from_ltrb(centre.x - rx, centre.y - ry, centre.x + rx, centre.y + ry)?;
    PathBuilder::from_oval(rect)
}

/// A picture being drawn, with the transform that places the scene in it.
pub(crate) struct Canvas<'a> {
    pixmap: &'a mut Pixmap,
    place: Transform,
}

impl<'a> Canvas<'a> {
    /// Draws into `pixmap`, every scene point moved by `place`.
    pub(crate) fn new(pixmap: &'a mut Pixmap, place: Transform) -> Self {
        Self { pixmap, place }
    }

    /// Fills a shape; a shape with no area is left out.
    pub(crate) fn fill(&mut self, shape: Option<Path>, colour: Color) {
        self.shade(shape, Shader::SolidColor(colour));
    }

    /// Fills an upright oval.
    pub(crate) fn oval(&mut self, centre: Point, radius: (f32, f32), colour: Color) {
        self.fill(oval(centre, radius), colour);
    }

    /// Fills a shape with a colour that changes from `top` to `bottom` down the page.
    pub(crate) fn graded(&mut self, shape: Option<Path>, top: (f32, Color), bottom: (f32, Color)) {
        let stops = vec![GradientStop::new(0.0, top.1), GradientStop::new(1.0, bottom.1)];
        let shader = LinearGradient::new(
            pt(0.0, top.0),
            pt(0.0, bottom.0),
            stops,
            SpreadMode::Pad,
            Transform::identity(),
        );
        self.shade(shape, shader.unwrap_or(Shader::SolidColor(top.1)));
    }

    /// An oval full of colour at its centre and clear at its rim.
    pub(crate) fn glow(&mut self, centre: Point, radius: (f32, f32), colour: Color) {
        let mut clear = colour;
        clear.set_alpha(0.0);
        let stops = vec![GradientStop::new(0.0, colour), GradientStop::new(1.0, clear)];
        let squash = Transform::from_row(radius.0, 0.0, 0.0, radius.1, centre.x, centre.y);
        let origin = Point::zero();
        let shader = RadialGradient::new(origin, 0.0, origin, 1.0, stops, SpreadMode::Pad, squash);
        if let Some(shader) = shader {
            self.shade(oval(centre, radius), shader);
        }
    }

    /// A straight line with round ends.
    pub(crate) fn line(&mut self, from: Point, to: Point, width: f32, colour: Color) {
        self.curve(&[from, between(from, to, 0.5), to], width, colour);
    }

    /// A curved line from the first of three points to the last, pulled to the middle one.
    pub(crate) fn curve(&mut self, points: &[Point; 3], width: f32, colour: Color) {
        let [from, pull, to] = points;
        let mut path = PathBuilder::new();
        path.move_to(from.x, from.y);
        path.quad_to(pull.x, pull.y, to.x, to.y);
        let stroke = Stroke { width, line_cap: LineCap::Round, ..Stroke::default() };
        if let Some(path) = path.finish() {
            let paint = paint_of(Shader::SolidColor(colour));
            self.pixmap.stroke_path(&path, &paint, &stroke, self.place, None);
        }
    }

    /// Lays a drawn layer over the picture, `grow` times as large, its corner at `corner`.
    pub(crate) fn layer(&mut self, layer: PixmapRef, corner: Point, grow: f32) {
        let paint = PixmapPaint { quality: FilterQuality::Bilinear, ..PixmapPaint::default() };
        let place = self.place.pre_translate(corner.x, corner.y).pre_scale(grow, grow);
        self.pixmap.draw_pixmap(0, 0, layer, &paint, place, None);
    }

    fn shade(&mut self, shape: Option<Path>, shader: Shader) {
        if let Some(shape) = shape {
            let paint = paint_of(shader);
            self.pixmap.fill_path(&shape, &paint, FillRule::Winding, self.place, None);
        }
    }
}

fn paint_of(shader: Shader) -> Paint {
    Paint { shader, anti_alias: true, ..Paint::default() }
}
