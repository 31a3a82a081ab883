//! Everything beyond the river: sky, hills, woods and the still pool above the weir.

use tiny_skia::{Color, Path, PathBuilder, Point};

use crate::canvas::{Canvas, blob, polygon, pt, rgb, rgba};
use crate::noise::{Dice, unit};

/// Left end of everything that spans the scene.
const LEFT: f32 = -40.0;
/// Right end of everything that spans the scene.
const RIGHT: f32 = 1480.0;
/// Where the far wood meets the pool above the weir.
const POOL_SHORE: f32 = 306.0;
/// Where the drawn pool ends, hidden behind the weir.
const POOL_FOOT: f32 = 350.0;

/// The greens of one wood, from its shaded side to its sunlit side.
#[derive(Clone, Copy)]
struct Greens {
    shade: u32,
    body: u32,
    light: u32,
}

const FAR_GREENS: [Greens; 3] = [
    Greens { shade: 0x5d7f74, body: 0x6d9180, light: 0x86a78d },
    Greens { shade: 0x567a69, body: 0x678a71, light: 0x82a37f },
    Greens { shade: 0x668577, body: 0x7a9a82, light: 0x97b18e },
];

const NEAR_GREENS: [Greens; 4] = [
    Greens { shade: 0x2f5540, body: 0x41704c, light: 0x68955a },
    Greens { shade: 0x365b3a, body: 0x4d7a45, light: 0x7fa356 },
    Greens { shade: 0x2b4f45, body: 0x3c6a55, light: 0x5b8a66 },
    Greens { shade: 0x4f6a36, body: 0x6d8b43, light: 0x9bb15a },
];

/// Draws the whole backdrop. It never moves but with the camera.
pub(crate) fn draw(canvas: &mut Canvas) {
    draw_sky(canvas);
    draw_hills(canvas);
    draw_far_wood(canvas);
    draw_pool(canvas);
    draw_near_wood(canvas);
}

fn draw_sky(canvas: &mut Canvas) {
    let sky = polygon(&[pt(LEFT, -40.0), pt(RIGHT, -40.0), pt(RIGHT, 320.0), pt(LEFT, 320.0)]);
    canvas.graded(sky, (-20.0, rgb(0x9cc6e3)), (150.0, rgb(0xe8f1ee)));
    for (x, y, size) in [(250.0, 36.0, 1.0), (820.0, 22.0, 1.4), (1230.0, 58.0, 0.8)] {
        for (dx, dy, rx) in [(-70.0, 6.0, 110.0), (0.0, -6.0, 120.0), (90.0, 8.0, 130.0)] {
            let puff = pt(x + dx * size, y + dy * size);
            canvas.glow(puff, (rx * size, 26.0 * size), rgba(0xffffff, 0.75));
        }
    }
}

/// A rolling line of hilltops about `height` tall over `base`, filled down to the river.
fn ridge(base: f32, height: f32, seed: u32) -> Option<Path> {
    let step = 124.0;
    let mut path = PathBuilder::new();
    path.move_to(LEFT, POOL_FOOT);
    path.line_to(LEFT, base);
    let mut x = LEFT;
    for knot in 0..13 {
        let top = base - height * unit(seed + knot);
        let next = base - height * unit(seed + knot + 1);
        path.quad_to(x, top, x + step * 0.5, (top + next) * 0.5);
        x += step;
    }
    path.line_to(RIGHT, POOL_FOOT);
    path.close();
    path.finish()
}

fn draw_hills(canvas: &mut Canvas) {
    let (haze, foot) = (rgb(0xc9dad6), 270.0);
    canvas.graded(ridge(134.0, 74.0, 20), (60.0, rgb(0xa3bfc9)), (foot, haze));
    canvas.graded(ridge(176.0, 66.0, 53), (110.0, rgb(0x8aada8)), (foot, haze));
    canvas.graded(ridge(214.0, 52.0, 91), (160.0, rgb(0x7ba08c)), (foot + 40.0, rgb(0xa9c2ad)));
}

fn draw_far_wood(canvas: &mut Canvas) {
    let mut dice = Dice::new(11);
    let mut x = LEFT;
    while x < RIGHT {
        let foot = pt(x, POOL_SHORE + dice.range(-8.0, 2.0));
        let height = dice.range(58.0, 108.0);
        let greens = dice.pick(FAR_GREENS);
        if dice.chance(0.3) {
            draw_conifer(canvas, foot, height * 1.1, greens);
        } else {
            draw_broadleaf(canvas, foot, height, greens);
        }
        x += dice.range(24.0, 46.0);
    }
}

fn draw_near_wood(canvas: &mut Canvas) {
    let meadow = polygon(&[
        pt(760.0, POOL_SHORE - 8.0),
        pt(RIGHT, POOL_SHORE + 6.0),
        pt(RIGHT, 440.0),
        pt(760.0, 440.0),
    ]);
    canvas.graded(meadow, (300.0, rgb(0x8fae72)), (390.0, rgb(0x5f8246)));
    let mut dice = Dice::new(5);
    let mut x = 800.0;
    while x < RIGHT + 40.0 {
        let foot = pt(x, 336.0 + (x - 760.0) * 0.06 + dice.range(-8.0, 6.0));
        let height = dice.range(120.0, 190.0) * (0.8 + (x - 760.0) * 0.000_5);
        let greens = dice.pick(NEAR_GREENS);
        if dice.chance(0.35) {
            draw_conifer(canvas, foot, height * 1.15, greens);
        } else {
            draw_broadleaf(canvas, foot, height, greens);
        }
        x += dice.range(46.0, 84.0);
    }
}

/// A round-headed tree: a trunk, a shaded crown, and clumps lit from the upper left.
fn draw_broadleaf(canvas: &mut Canvas, foot: Point, height: f32, greens: Greens) {
    let mut dice = Dice::new(foot.x.to_bits());
    let trunk = pt(foot.x, foot.y - height * 0.5);
    canvas.line(foot, trunk, height * 0.06, rgb(0x5a5040));
    let crown = pt(foot.x, foot.y - height * 0.58);
    let reach = height * 0.36;
    for (tone, shift, size, clumps) in [
        (greens.shade, 0.10, 0.62, 8),
        (greens.body, -0.04, 0.46, 9),
        (greens.light, -0.26, 0.25, 8),
    ] {
        for _ in 0..clumps {
            let across = dice.range(-0.62, 0.62) + shift * 0.6;
            let up = dice.range(-0.75, 0.75) * (1.0 - across.abs() * 0.5) + shift;
            let centre = pt(crown.x + across * reach, crown.y + up * reach * 1.15);
            let radius = reach * size * dice.range(0.75, 1.15);
            canvas.oval(centre, (radius, radius * 0.86), rgb(tone));
        }
    }
}

/// A pointed tree of overlapping skirts, lighter on its left side.
fn draw_conifer(canvas: &mut Canvas, foot: Point, height: f32, greens: Greens) {
    let skirts = [0.0_f32, 0.2, 0.4, 0.6, 0.76];
    for low in skirts {
        let half = height * 0.21 * (1.0 - low * 0.9);
        let (base, top) = (foot.y - height * (low + 0.06), foot.y - height * (low + 0.36));
        let skirt = |left: f32, right: f32| {
            blob(&[
                pt(foot.x, top),
                pt(foot.x + right * 0.5, (base + top) * 0.5),
                pt(foot.x + right * 1.2, base + 4.0),
                pt(foot.x + left * 1.2, base + 4.0),
                pt(foot.x + left * 0.5, (base + top) * 0.5),
            ])
        };
        canvas.fill(skirt(-half, half), rgb(greens.shade));
        canvas.fill(skirt(-half * 0.9, half * 0.25), rgb(greens.body));
    }
}

/// The calm water above the weir, with the wood's reflection in it.
fn draw_pool(canvas: &mut Canvas) {
    let pool = polygon(&[
        pt(LEFT, POOL_SHORE),
        pt(900.0, POOL_SHORE),
        pt(900.0, POOL_FOOT),
        pt(LEFT, POOL_FOOT),
    ]);
    let (deep, pale) = (rgb(0x5f8478), rgb(0xa8c6c4));
    canvas.graded(pool, (POOL_SHORE, deep), (POOL_FOOT - 8.0, pale));
    let mut dice = Dice::new(77);
    for _ in 0..26 {
        let centre = pt(dice.range(LEFT, 800.0), dice.range(POOL_SHORE + 6.0, 332.0));
        let tone: Color = rgba(dice.pick([0xcfe1dd, 0x4f7468]), 0.35);
        canvas.glow(centre, (dice.range(40.0, 110.0), 3.0), tone);
    }
}
