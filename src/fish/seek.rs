//! Candidates on the reduced picture: connected things that are not floor and not shadow.
#![expect(clippy::cast_possible_truncation, reason = "places stay inside the picture")]

use std::sync::OnceLock;

use crate::geometry::Point;

use super::Scene;
use super::differ::Block;
use super::evidence::{Evidence, Kind, shadow_drift};
use super::grid::Grid;
use super::limits::Limits;
use super::shape::Shape;
use super::spine::Spine;

/// The reduced picture told apart.
#[derive(Debug)]
pub(super) struct Survey {
    /// Differences from the floor.
    pub(super) block: Block,
    /// The tray's inside without the card.
    pub(super) inside: Grid,
    /// What each pixel is.
    pub(super) kinds: Vec<Kind>,
    /// Pixels of things that only their outline tells from mirrored light.
    held: Vec<usize>,
    /// Things that differ from the floor too little to be told from it pixel by pixel.
    pub(super) hidden: Grid,
    /// Size of each pixel's averaged tint.
    pub(super) tint: Vec<f32>,
    /// From where on a pixel differs from the floor.
    pub(super) limits: Limits,
    /// How the floor's tint drifts in shadow.
    pub(super) drift: [f32; 2],
}

impl Survey {
    /// How many times its limit pixel `k`'s difference reaches, the larger of lightness and tint.
    fn strength(&self, k: usize) -> f32 {
        (self.block.pixels[k].lightness.abs() / self.limits.lightness).max(self.tint[k] / self.limits.tint)
    }

    /// Centre of pixel `k`.
    pub(super) fn place(&self, k: usize) -> Point {
        Point::new((k % self.block.width) as f64 + 0.5, (k / self.block.width) as f64 + 0.5)
    }

    /// Takes what only its outline tells from mirrored light for light: before a pane of glass it mostly is.
    pub(super) fn behind_glass(&mut self) {
        for k in std::mem::take(&mut self.held) {
            self.kinds[k] = Kind::Light;
        }
    }

    /// The pixels of the square of half side `reach` about `p`, as far as they lie in the picture.
    pub(super) fn around(&self, p: Point, reach: f64) -> impl Iterator<Item = usize> + use<> {
        let (w, h) = (self.block.width, self.block.height);
        let range = |c: f64, limit: usize| {
            let at = |v: f64| v.clamp(0.0, limit as f64) as usize;
            at(c - reach)..at((c + reach).ceil())
        };
        let across = range(p.x, w);
        range(p.y, h).flat_map(move |y| across.clone().map(move |x| y * w + x))
    }
}

#[cfg(test)]
impl Survey {
    /// Bare floor, two photo pixels a place, for tests to lay things on.
    pub(super) fn bare(width: usize, height: usize) -> Self {
        let pixels = vec![super::differ::Difference::default(); width * height];
        Self {
            block: Block { origin: (0, 0), step: 2, width, height, pixels, floor: [80.0, 0.0, 0.0] },
            inside: Grid { width, height, on: vec![true; width * height] },
            kinds: vec![Kind::Floor; width * height],
            held: Vec::new(),
            hidden: Grid::empty(width, height),
            tint: vec![1.0; width * height],
            limits: Limits { lightness: 1.0, tint: 1.0 },
            drift: [0.0; 2],
        }
    }
}

/// Looks at the whole tray.
pub(super) fn survey(scene: &Scene<'_>) -> Survey {
    let inside = inside(scene);
    let block = Block::whole(scene.floor, &inside);
    let drift = shadow_drift(&block, &inside);
    let evidence = Evidence::of(&block, &inside, drift);
    let (kinds, held) = evidence.classify(&inside);
    let Evidence { tint, limits, .. } = evidence;
    let hidden = Grid::empty(inside.width, inside.height);
    Survey { block, inside, kinds, held, hidden, tint, limits, drift }
}

/// Pixels of the tray that the card does not cover.
fn inside(scene: &Scene<'_>) -> Grid {
    let picture = &scene.floor.reduced;
    let k = f64::from(picture.factor);
    let scaled = |points: &[Point]| points.iter().map(|p| *p * (1.0 / k)).collect::<Vec<_>>();
    let mut inside = Grid::polygon(picture.width, picture.height, &scaled(&scene.floor.tray));
    if let Some(card) = scene.card {
        let grown = crate::floor::grow(&card.corners, 0.25 * card.pitch_px);
        let covered = Grid::polygon(picture.width, picture.height, &scaled(&grown));
        inside.on.iter_mut().zip(&covered.on).for_each(|(v, c)| *v &= !c);
    }
    inside
}

/// A thing on the reduced picture, in a rectangle of its own with a margin.
#[derive(Debug, Clone)]
pub(super) struct Blob {
    /// Left and top of the rectangle in reduced pixels.
    pub(super) at: (usize, usize),
    /// Its pixels in the rectangle.
    pub(super) grid: Grid,
    /// Pixels of it that by themselves look like shadow: clear fin between two coloured pieces.
    pub(super) bridge: Grid,
    /// Whether it comes to the end of the searched area: the rim, the picture's edge or the card.
    pub(super) at_edge: bool,
    /// Number of its pixels at the picture's edge.
    pub(super) cut: usize,
    /// Its middle line and shape, once somebody has asked.
    pub(super) form: OnceLock<Option<(Spine, Shape)>>,
}

impl Blob {
    /// Some pixels of the reduced picture, `bridge` among them joining what would fall apart.
    pub(super) fn of(survey: &Survey, own: Vec<usize>, bridge: Vec<usize>) -> Self {
        let bounds = Bounds::of(&own, survey.block.width);
        blob(survey, &Joined { own, bridge, bounds })
    }

    /// Its pixels as places of the reduced picture, which is `width` across.
    pub(super) fn places(&self, width: usize) -> impl Iterator<Item = usize> + '_ {
        self.grid.indices().map(move |k| self.place(k, width))
    }

    /// Its bridging pixels, likewise.
    pub(super) fn bridge_places(&self, width: usize) -> impl Iterator<Item = usize> + '_ {
        self.bridge.indices().map(move |k| self.place(k, width))
    }

    /// Its middle line; `None` for one too small to have one.
    pub(super) fn spine(&self) -> Option<&Spine> {
        self.form().map(|f| &f.0)
    }

    /// Its shape; `None` for one too small to have a middle line.
    pub(super) fn shape(&self) -> Option<Shape> {
        self.form().map(|f| f.1)
    }

    fn form(&self) -> Option<&(Spine, Shape)> {
        let measured = || {
            let spine = Spine::of(&self.grid)?;
            let shape = Shape::of(&self.grid, &spine);
            Some((spine, shape))
        };
        self.form.get_or_init(measured).as_ref()
    }

    /// Pixel `k` of its rectangle as a place of the reduced picture, which is `width` across.
    pub(super) fn place(&self, k: usize, width: usize) -> usize {
        (self.at.1 + k / self.grid.width) * width + self.at.0 + k % self.grid.width
    }
}

/// Reduced pixels of margin around a blob.
const MARGIN: usize = 2;

/// All things of at least `least` reduced pixels; fragments beside a larger thing that only shade parts from it are joined to it.
pub(super) fn blobs(survey: &Survey, least: usize) -> Vec<Blob> {
    let (width, height) = (survey.block.width, survey.block.height);
    let things = Grid { width, height, on: survey.kinds.iter().map(|k| *k == Kind::Thing).collect() };
    let mut pieces = things.pieces();
    pieces.retain(|p| p.len() >= 6);
    pieces.sort_by_key(|p| (std::cmp::Reverse(p.len()), p[0]));
    let joined = join_fragments(survey, pieces);
    joined.into_iter().filter(|j| j.own.len() >= least).map(|j| blob(survey, &j)).collect()
}

/// The pieces, of at least `least` reduced pixels, of a blob's things that stand out `times` as much as they must.
pub(super) fn stronger(survey: &Survey, blob: &Blob, times: f32, least: usize) -> Vec<Blob> {
    let width = survey.block.width;
    let strong = |k: usize| survey.kinds[k] == Kind::Thing && survey.strength(k) >= times;
    let mut grid = Grid::empty(blob.grid.width, blob.grid.height);
    blob.grid.indices().filter(|&k| strong(blob.place(k, width))).for_each(|k| grid.on[k] = true);
    let pieces = grid.pieces().into_iter().filter(|p| p.len() >= least);
    pieces.map(|p| Blob::of(survey, p.iter().map(|&k| blob.place(k, width)).collect(), Vec::new())).collect()
}

/// A piece with what was joined to it.
#[derive(Debug)]
struct Joined {
    own: Vec<usize>,
    bridge: Vec<usize>,
    bounds: Bounds,
}

/// Largest share of the larger piece that a fragment has (starting value).
const FRAGMENT: f64 = 0.4;
/// Widest gap between fragment and larger piece, in lengths of the latter: a tail fin is about a quarter of a fish.
const GAP: f64 = 0.3;

fn join_fragments(survey: &Survey, pieces: Vec<Vec<usize>>) -> Vec<Joined> {
    let width = survey.block.width;
    let mut out: Vec<Joined> = Vec::new();
    'pieces: for piece in pieces {
        let middle = middle(&piece, width);
        for whole in &mut out {
            let reach = GAP * whole.bounds.diagonal();
            if (piece.len() as f64) > FRAGMENT * whole.own.len() as f64 || whole.bounds.distance(middle) > reach {
                continue;
            }
            let Some(bridge) = bridge(survey, &whole.own, middle, reach) else { continue };
            whole.own.extend(&piece);
            whole.bridge.extend(bridge);
            whole.bounds = Bounds::of(&whole.own, width);
            continue 'pieces;
        }
        let bounds = Bounds::of(&piece, width);
        out.push(Joined { own: piece, bridge: Vec::new(), bounds });
    }
    out
}

fn middle(piece: &[usize], width: usize) -> (f64, f64) {
    let n = piece.len() as f64;
    let x = piece.iter().map(|k| (k % width) as f64).sum::<f64>() / n;
    (x, piece.iter().map(|k| (k / width) as f64).sum::<f64>() / n)
}

/// First and last column and row of a piece.
#[derive(Debug, Clone, Copy)]
struct Bounds {
    x: (f64, f64),
    y: (f64, f64),
}

impl Bounds {
    fn of(piece: &[usize], width: usize) -> Self {
        let all = (f64::MAX, f64::MIN);
        piece.iter().fold(Self { x: all, y: all }, |b, k| {
            let (x, y) = ((k % width) as f64, (k / width) as f64);
            Self { x: (b.x.0.min(x), b.x.1.max(x)), y: (b.y.0.min(y), b.y.1.max(y)) }
        })
    }

    /// Length of the diagonal, in pixels.
    fn diagonal(self) -> f64 {
        (self.x.1 - self.x.0).hypot(self.y.1 - self.y.0)
    }

    /// Distance of a place from the box, in pixels; 0 inside.
    fn distance(self, (x, y): (f64, f64)) -> f64 {
        let beyond = |v: f64, (lo, hi): (f64, f64)| (lo - v).max(v - hi).max(0.0);
        beyond(x, self.x).hypot(beyond(y, self.y))
    }
}

/// The shade between `middle` and the nearest pixel of `whole`, when it is near and no bare floor lies between.
fn bridge(survey: &Survey, whole: &[usize], middle: (f64, f64), reach: f64) -> Option<Vec<usize>> {
    const SHADE: f64 = 0.8;
    let width = survey.block.width;
    let distance2 = |k: usize| ((k % width) as f64 - middle.0).powi(2) + ((k / width) as f64 - middle.1).powi(2);
    let nearest = whole.iter().copied().min_by(|&a, &b| distance2(a).total_cmp(&distance2(b)))?;
    let gap = distance2(nearest).sqrt();
    if gap > reach {
        return None;
    }
    let (nx, ny) = ((nearest % width) as f64, (nearest / width) as f64);
    let steps = gap.ceil().max(1.0) as usize;
    let (mut line, mut shade) = (Vec::new(), 0.0);
    for i in 0..=steps {
        let t = i as f64 / steps as f64;
        let (x, y) = (nx + (middle.0 - nx) * t, ny + (middle.1 - ny) * t);
        let k = y.round() as usize * width + x.round() as usize;
        shade += f64::from(u8::from(survey.kinds[k] != Kind::Floor));
        line.push(k);
    }
    if shade < SHADE * line.len() as f64 {
        return None;
    }
    // Shade within a third of the gap of the line belongs to the fin as well.
    let wide = (gap / 3.0).ceil() as usize;
    let mut out = line.clone();
    for &k in &line {
        for dy in 0..=2 * wide {
            for dx in 0..=2 * wide {
                let (x, y) = ((k % width + dx).wrapping_sub(wide), (k / width + dy).wrapping_sub(wide));
                if x < width && y < survey.block.height && survey.kinds[y * width + x] == Kind::Light {
                    out.push(y * width + x);
                }
            }
        }
    }
    out.sort_unstable();
    out.dedup();
    Some(out)
}

fn blob(survey: &Survey, joined: &Joined) -> Blob {
    let (w, h) = (survey.block.width, survey.block.height);
    let all = || joined.own.iter().chain(&joined.bridge).copied();
    let span =
        |value: &dyn Fn(usize) -> usize| all().map(value).fold((usize::MAX, 0), |(a, b), v| (a.min(v), b.max(v)));
    let ((x0, x1), (y0, y1)) = (span(&|k| k % w), span(&|k| k / w));
    let (left, top) = (x0.saturating_sub(MARGIN), y0.saturating_sub(MARGIN));
    let (right, bottom) = ((x1 + MARGIN + 1).min(w), (y1 + MARGIN + 1).min(h));
    let mut grid = Grid::empty(right - left, bottom - top);
    let mut bridge = grid.clone();
    let own = |k: usize, width: usize| (k / w - top) * width + k % w - left;
    all().for_each(|k| grid.on[own(k, right - left)] = true);
    joined.bridge.iter().for_each(|&k| bridge.on[own(k, right - left)] = true);
    let all_inside = |k: usize| {
        let (x, y) = (k % w, k / w);
        x > 0 && y > 0 && x + 1 < w && y + 1 < h && survey.inside.neighbours(k).all(|q| survey.inside.on[q])
    };
    let at_edge = !joined.own.iter().all(|&k| all_inside(k));
    let grid = grid.filled(joined.own.len() / 3);
    let cut = joined.own.iter().filter(|&&k| k % w == 0 || k % w + 1 == w || k / w == 0 || k / w + 1 == h).count();
    Blob { at: (left, top), grid, bridge, at_edge, cut, form: OnceLock::new() }
}
