//! Where the camera stands: the map from millimetres on the tray's plane to pixels.

use broodhue::geometry::{Homography, PixelBox, Point, Quad};

/// Focal length in picture widths: about a phone's main lens (26 mm on 36 mm film; common, no source).
const FOCAL_WIDTHS: f64 = 0.72;

/// A pinhole camera looking at the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Picture width in pixels.
    pub width: u32,
    /// Picture height in pixels.
    pub height: u32,
    /// Scale at the middle of the picture before tilting.
    pub px_per_mm: f64,
    /// The place in the middle of the picture, in millimetres.
    pub centre: Point,
    /// Turn of the camera about its axis, degrees.
    pub turn: f64,
    /// Tilt from straight down, degrees.
    pub tilt: f64,
    /// Direction of the tilt in the picture, degrees.
    pub tilt_towards: f64,
    /// Whether the picture is mirrored, as front cameras do.
    pub mirrored: bool,
}

impl View {
    /// Straight down on a plane of `width` × `height` pixels whose middle shows `centre`.
    pub fn straight(width: u32, height: u32, px_per_mm: f64, centre: Point) -> Self {
        Self { width, height, px_per_mm, centre, turn: 0.0, tilt: 0.0, tilt_towards: 0.0, mirrored: false }
    }

    /// Millimetres → pixels.
    pub fn to_pixels(self) -> Homography {
        let focal = FOCAL_WIDTHS * f64::from(self.width.max(self.height));
        let (sr, cr) = self.turn.to_radians().sin_cos();
        let (st, ct) = self.tilt.to_radians().sin_cos();
        let (sd, cd) = self.tilt_towards.to_radians().sin_cos();
        let flip = if self.mirrored { -1.0 } else { 1.0 };
        // Tilt by the angle about the axis (−sin d, cos d) of the plane: Rodrigues' formula, first two columns.
        let tilted = |x: f64, y: f64| {
            let along = x * cd + y * sd;
            (x + (ct - 1.0) * along * cd, y + (ct - 1.0) * along * sd, -st * along)
        };
        let column = |x: f64, y: f64| tilted(flip * (cr * x - sr * y), sr * x + cr * y);
        let (ux, uy, uz) = column(1.0, 0.0);
        let (vx, vy, vz) = column(0.0, 1.0);
        let distance = focal / self.px_per_mm;
        let (cx, cy) = (f64::from(self.width) / 2.0, f64::from(self.height) / 2.0);
        let plane = Homography([
            [focal * ux + cx * uz, focal * vx + cx * vz, cx * distance],
            [focal * uy + cy * uz, focal * vy + cy * vz, cy * distance],
            [uz, vz, distance],
        ]);
        plane.after(&Homography([[1.0, 0.0, -self.centre.x], [0.0, 1.0, -self.centre.y], [0.0, 0.0, 1.0]]))
    }

    /// Pixels → millimetres.
    pub fn to_plane(self) -> Homography {
        self.to_pixels().inverse().unwrap()
    }

    /// The quad of the plane that the picture shows.
    pub fn footprint(self) -> Quad {
        let back = self.to_plane();
        let (w, h) = (f64::from(self.width), f64::from(self.height));
        [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| back.apply(Point::new(x, y)))
    }
}

/// The pixel box around a box of the plane.
pub fn project_box(to_pixels: &Homography, b: &PixelBox) -> PixelBox {
    let corners = [(b.x0, b.y0), (b.x1, b.y0), (b.x1, b.y1), (b.x0, b.y1)];
    PixelBox::around(&corners.map(|(x, y)| to_pixels.apply(Point::new(x, y)))).unwrap_or_default()
}
