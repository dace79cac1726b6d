//! How a block of the photo differs from the bare floor, pixel by pixel.

use std::array::from_fn;

use rayon::prelude::*;

use crate::colour::LinearRgb;
use crate::floor::{Floor, perceived, perceived_all};
use crate::geometry::mean_point;
use crate::photo::Photo;

use super::Scene;
use super::grid::Grid;

/// Chroma from which a floor is coloured (starting value).
const COLOURED_FLOOR: f32 = 12.0;
/// Lightness up to which a floor is dark: a grey one in too little light has 35 (starting value).
const DARK_FLOOR: f32 = 30.0;

/// Difference of one pixel from the bare floor, the uneven light taken out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Difference {
    /// Lightness above the floor's, in L* units.
    pub(super) lightness: f32,
    /// Difference in a* and b* from the floor in a shadow just as dark: zero for every shadow, whatever its depth.
    pub(super) tint: [f32; 2],
    /// Whether it is what the floor with the lamp's mirror image over it would be.
    pub(super) sheen: bool,
}

impl Difference {
    /// Size of the tint.
    #[inline]
    pub(super) fn chroma(self) -> f32 {
        (self.tint[0] * self.tint[0] + self.tint[1] * self.tint[1]).sqrt()
    }

    /// Size of the whole difference.
    #[inline]
    pub(super) fn size(self) -> f32 {
        (self.lightness * self.lightness + self.tint[0] * self.tint[0] + self.tint[1] * self.tint[1]).sqrt()
    }
}

/// A block of pixels, each `step` × `step` photo pixels, with their differences from the floor.
#[derive(Debug, Clone)]
pub(super) struct Block {
    /// Top-left corner in photo pixels.
    pub(super) origin: (u32, u32),
    /// Photo pixels per block pixel, along each side.
    pub(super) step: u32,
    /// Block pixels across.
    pub(super) width: usize,
    /// Block pixels down.
    pub(super) height: usize,
    /// Row by row.
    pub(super) pixels: Vec<Difference>,
    /// The bare floor in the light of the tray's middle, as approximate L*, a*, b*.
    pub(super) floor: [f32; 3],
}

/// How each pixel of a photo differs from the bare floor, row by row, the uneven light taken out, in L*a*b* units: the lightness
/// above the floor's, and a* and b* from the floor in a shadow just as dark. What the network that sees heads is taught on.
pub fn differences(scene: &Scene<'_>) -> Vec<[f32; 3]> {
    let size = (scene.photo.width as usize, scene.photo.height as usize);
    let block = Block::close_up(scene.photo, scene.floor, (0, 0), 1, size);
    block.pixels.into_iter().map(|d| [d.lightness, d.tint[0], d.tint[1]]).collect()
}

impl Block {
    /// Approximate chroma of pixel `k` itself: its tint and what of the floor's colour light of that strength shows.
    pub(super) fn chroma(&self, k: usize) -> f32 {
        let ([l, a, b], pixel) = (self.floor, self.pixels[k]);
        let shade = (l + pixel.lightness + 16.0) / (l + 16.0);
        (pixel.tint[0] + a * shade).hypot(pixel.tint[1] + b * shade)
    }

    /// The part `inside` of the floor model's reduced picture; what lies outside differs in nothing.
    pub(super) fn whole(floor: &Floor, inside: &Grid) -> Self {
        let image = &floor.reduced;
        Self::of(floor, (0, 0), image.factor, (image.width, image.height), |x, y| {
            inside.on[y * inside.width + x].then(|| image.at(x, y))
        })
    }

    /// Its pixels from column and row `first` to the column and row before `past`, of which it has that many.
    pub(super) fn part(&self, first: (u32, u32), past: (usize, usize)) -> Self {
        let (x, y) = (first.0 as usize, first.1 as usize);
        let row = |y: usize| &self.pixels[y * self.width..][x..past.0];
        Self {
            origin: (self.origin.0 + first.0 * self.step, self.origin.1 + first.1 * self.step),
            width: past.0 - x,
            height: past.1 - y,
            pixels: (y..past.1).map(row).collect::<Vec<_>>().concat(),
            ..*self
        }
    }

    /// `size` block pixels from `origin` on, each the mean of its photo pixels.
    pub(super) fn close_up(photo: &Photo, floor: &Floor, origin: (u32, u32), step: u32, size: (usize, usize)) -> Self {
        Self::of(floor, origin, step, size, |x, y| {
            Some(photo.mean_light(origin.0 + index(x) * step, origin.1 + index(y) * step, step))
        })
    }

    fn of(
        floor: &Floor,
        origin: (u32, u32),
        step: u32,
        (width, height): (usize, usize),
        light: impl Fn(usize, usize) -> Option<LinearRgb> + Sync,
    ) -> Self {
        let middle = mean_point(&floor.tray);
        let bare = floor.background.at(middle);
        let bare_lab = perceived(bare);
        let count = width * height;
        // A row of the block and of the floor under it; each core goes through its pixels from left to right.
        let row = |y: usize| (y, floor.background.row(place(origin.1, step, y)));
        let group = |(y, below): &mut (usize, _), g: usize| {
            let mut group = Group::bare(bare);
            for (i, k) in (g * GROUP..count.min((g + 1) * GROUP)).enumerate() {
                if k.wrapping_sub(*y * width) >= width {
                    (*y, *below) = row(k / width);
                }
                let x = k - *y * width;
                if let Some(seen) = light(x, *y) {
                    group.set(i, seen, below.at(place(origin.0, step, x)));
                }
            }
            group.differences(bare, bare_lab)
        };
        let groups = (0..count.div_ceil(GROUP)).into_par_iter().with_min_len(2 * width);
        let mut pixels = groups.map_init(|| row(0), group).collect::<Vec<_>>().into_flattened();
        pixels.truncate(count);
        Self { origin, step, width, height, pixels, floor: bare_lab }
    }
}

impl Block {
    /// How strongly the most conspicuous of some pixels stand out: the size that a fiftieth of their differences reaches, 0 without any.
    pub(super) fn contrast(&self, pixels: impl Iterator<Item = usize>) -> f32 {
        self.reached(pixels, 50)
    }

    /// The size that one in `parts` of some pixels' differences reaches, 0 without any.
    pub(super) fn reached(&self, pixels: impl Iterator<Item = usize>, parts: usize) -> f32 {
        let mut sizes: Vec<f32> = pixels.map(|k| self.pixels[k].size()).collect();
        if sizes.is_empty() {
            return 0.0;
        }
        let at = (sizes.len() - 1) * (parts - 1) / parts;
        *sizes.select_nth_unstable_by(at, f32::total_cmp).1
    }

    /// How steeply lightness changes about a pixel, L* units per block pixel: central differences, one-sided at the edges.
    pub(super) fn slope(&self, k: usize) -> f32 {
        let (x, y) = (k % self.width, k / self.width);
        let change = |(p, q): (usize, usize), run: f32| (self.pixels[q].lightness - self.pixels[p].lightness) / run;
        let ends = |i: usize, n: usize, stride: usize| {
            let (back, on) = (usize::from(i > 0), usize::from(i + 1 < n));
            ((k - back * stride, k + on * stride), (back + on).max(1) as f32)
        };
        let (across, down) = (ends(x, self.width, 1), ends(y, self.height, self.width));
        change(across.0, across.1).hypot(change(down.0, down.1))
    }

    /// Whether the bare floor is coloured enough to tell mirrored light from a pale fish.
    pub(super) fn is_coloured(&self) -> bool {
        self.floor[1].hypot(self.floor[2]) > COLOURED_FLOOR
    }

    /// Whether every fish differs from the floor by much: it is coloured or dark.
    pub(super) fn is_bold(&self) -> bool {
        self.is_coloured() || self.is_dark()
    }

    /// Whether the bare floor is dark.
    pub(super) fn is_dark(&self) -> bool {
        self.floor[0] < DARK_FLOOR
    }

    /// Whether a thing only adds light to the floor, as a mirrored lamp or a water line does: most of it mirrors it, and no place in it, such
    /// as an eye, is darker than the floor or, where one end shows as the head, far darker than the thing. On a dark floor no eye is darker, and nothing can be said.
    pub(super) fn only_adds_light(&self, thing: &Grid, head_shows: bool) -> bool {
        // Starting values, tuned on the renderer's tuning seeds; a fry's eyes lie 17 and more below it, the noise of mirrored light 12.
        const PALE_FLOOR: f32 = 40.0;
        const MOST: f64 = 0.85;
        const DARK: f32 = -4.0;
        const EYE: f32 = 15.0;
        let (mut all, mut sheen, mut dark) = (0u32, 0u32, 0u32);
        for d in thing.indices().map(|k| self.pixels[k]) {
            all += 1;
            sheen += u32::from(d.sheen);
            dark += u32::from(d.lightness < DARK);
        }
        let adds = self.floor[0] > PALE_FLOOR && f64::from(sheen) >= MOST * f64::from(all) && 100 * dark < all;
        adds && !(head_shows && self.deepest(&thing.eroded(1)) >= EYE)
    }

    /// How far the darkest of some pixels lies below their median, L* units; 0 without any.
    fn deepest(&self, pixels: &Grid) -> f32 {
        let mut lightness: Vec<f32> = pixels.indices().map(|k| self.pixels[k].lightness).collect();
        let middle = lightness.len() / 2;
        if lightness.is_empty() {
            return 0.0;
        }
        let (below, median, _) = lightness.select_nth_unstable_by(middle, f32::total_cmp);
        *median - below.iter().copied().fold(*median, f32::min)
    }
}

/// Centre of block column or row `i` in photo pixels.
fn place(origin: u32, step: u32, i: usize) -> f64 {
    f64::from(origin) + (i as f64 + 0.5) * f64::from(step)
}

/// A block index as a photo coordinate.
fn index(i: usize) -> u32 {
    u32::try_from(i).unwrap_or(u32::MAX)
}

/// Below this mirrored light is lost in the noise, L* units.
const LEAST_SHEEN: f32 = 1.5;

/// Pixels whose differences are worked out at once.
const GROUP: usize = 8;

/// The light of some pixels and of the floor under them, channel by channel.
struct Group {
    seen: [[f32; GROUP]; 3],
    floor: [[f32; GROUP]; 3],
    /// Which pixels have light; the others differ in nothing.
    known: [bool; GROUP],
}

impl Group {
    fn bare(bare: LinearRgb) -> Self {
        let all = [bare.red, bare.green, bare.blue].map(|v| [v; GROUP]);
        Self { seen: all, floor: all, known: [false; GROUP] }
    }

    fn set(&mut self, i: usize, seen: LinearRgb, floor: LinearRgb) {
        (self.seen[0][i], self.seen[1][i], self.seen[2][i]) = (seen.red, seen.green, seen.blue);
        (self.floor[0][i], self.floor[1][i], self.floor[2][i]) = (floor.red, floor.green, floor.blue);
        self.known[i] = true;
    }

    /// The pixels' differences, once all are relit so that the floor is `bare`.
    fn differences(&self, bare: LinearRgb, bare_lab: [f32; 3]) -> [Difference; GROUP] {
        if self.known == [false; GROUP] {
            return [Difference::default(); GROUP];
        }
        let relit = |c: usize, bare: f32| from_fn(|i| self.seen[c][i] / self.floor[c][i] * bare);
        let seen: [[f32; GROUP]; 3] = [relit(0, bare.red), relit(1, bare.green), relit(2, bare.blue)];
        let [l, a, b] = perceived_all(seen);
        // A shadow scales XYZ, and with it cube-root a* and b*, by one factor: that of L* + 16.
        let q = l.map(|l| (l + 16.0) / (bare_lab[0] + 16.0).max(1.0));
        let lightness = l.map(|l| l - bare_lab[0]);
        let tint: [[f32; 2]; GROUP] = from_fn(|i| [a[i] - q[i] * bare_lab[1], b[i] - q[i] * bare_lab[2]]);
        from_fn(|i| {
            if !self.known[i] {
                return Difference::default();
            }
            let light = || LinearRgb::new(seen[0][i], seen[1][i], seen[2][i]);
            let sheen = lightness[i] > LEAST_SHEEN && is_sheen(light(), bare, [l[i], a[i], b[i]], lightness[i]);
            Difference { lightness: lightness[i], tint: tint[i], sheen }
        })
    }
}

/// Whether `seen` is `bare` with equal light added in every channel: mirrored light keeps the lamp's colour, which the camera's
/// white balance makes nearly neutral.
fn is_sheen(seen: LinearRgb, bare: LinearRgb, lab: [f32; 3], lightness: f32) -> bool {
    // Tolerance in a* and b*: what an imperfect white balance leaves (starting values).
    let tolerance = 3.0 + 0.12 * lightness;
    let added = (seen.red - bare.red + 2.0 * (seen.green - bare.green) + seen.blue - bare.blue) / 4.0;
    let mirrored = perceived(LinearRgb::new(bare.red + added, bare.green + added, bare.blue + added));
    (lab[1] - mirrored[1]).powi(2) + (lab[2] - mirrored[2]).powi(2) < tolerance * tolerance
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_slope_of_a_plane_is_its_own_everywhere() {
        let pixels = (0..5 * 4u8).map(|k| Difference {
            lightness: 3.0 * f32::from(k % 5) - 4.0 * f32::from(k / 5),
            ..Difference::default()
        });
        let block =
            Block { origin: (0, 0), step: 1, width: 5, height: 4, pixels: pixels.collect(), floor: [50.0, 0.0, 0.0] };
        assert!((0..20).all(|k| (block.slope(k) - 5.0).abs() < 1e-5));
    }

    #[test]
    fn a_part_of_a_block_is_what_stood_there() {
        let pixels = (0..5 * 4u8).map(|k| Difference { lightness: f32::from(k), ..Difference::default() });
        let block = Block {
            origin: (100, 60),
            step: 3,
            width: 5,
            height: 4,
            pixels: pixels.collect(),
            floor: [50.0, 0.0, 0.0],
        };
        let part = block.part((2, 1), (5, 3));
        assert_eq!((part.origin, part.step, part.width, part.height), ((106, 63), 3, 3, 2));
        let lightness: Vec<f32> = part.pixels.iter().map(|d| d.lightness).collect();
        assert_eq!(lightness, [7.0, 8.0, 9.0, 12.0, 13.0, 14.0]);
    }

    fn difference(seen: LinearRgb, bare: LinearRgb) -> Difference {
        let mut group = Group::bare(bare);
        group.set(0, seen, bare);
        group.differences(bare, perceived(bare))[0]
    }

    #[test]
    fn a_shadow_on_a_blue_floor_has_no_tint_and_a_red_fish_has() {
        let blue = LinearRgb::new(0.05, 0.12, 0.35);
        let shadow = difference(blue * 0.5, blue);
        assert!(shadow.lightness < -8.0 && shadow.chroma() < 0.1, "{shadow:?}");
        let red = difference(LinearRgb::new(0.4, 0.08, 0.05), blue);
        assert!(red.chroma() > 60.0, "{red:?}");
    }

    #[test]
    fn a_lamp_mirrored_on_a_blue_floor_is_sheen_and_a_white_fish_is_not() {
        let blue = LinearRgb::new(0.05, 0.12, 0.35);
        let mirrored = difference(LinearRgb::new(0.35, 0.42, 0.65), blue);
        assert!(mirrored.sheen, "{mirrored:?}");
        let white = difference(LinearRgb::new(0.6, 0.62, 0.6), blue);
        assert!(!white.sheen, "{white:?}");
    }

    #[test]
    fn a_white_fry_is_told_from_a_mirrored_lamp_by_its_eye() {
        let white = Difference { lightness: 25.0, sheen: true, ..Difference::default() };
        let on = (0..96).map(|k| (1..11).contains(&(k % 12)) && (1..7).contains(&(k / 12))).collect();
        let grid = Grid { width: 12, height: 8, on };
        let mut block =
            Block { origin: (0, 0), step: 1, width: 12, height: 8, pixels: vec![white; 96], floor: [60.0, 0.0, 0.0] };
        assert!(block.only_adds_light(&grid, true));
        // An eye that the photo blurs into the white about it: 20 L* below it, and not below the floor.
        block.pixels[3 * 12 + 4].lightness = 5.0;
        assert!(!block.only_adds_light(&grid, true));
        // A dark place anywhere is no eye.
        assert!(block.only_adds_light(&grid, false));
        // The rim of a lamp's image is dim as well.
        block.pixels[3 * 12 + 4].lightness = 25.0;
        block.pixels[12 + 4].lightness = 5.0;
        assert!(block.only_adds_light(&grid, true));
    }
}
