//! What fools the eye: eyes, gill cover, belly and gravid spot, seen from above and from the side.

use broodhue::units::View as Side;

use super::Part;
use super::coat::Ready;
use super::shape::Place;
use crate::common::render::noise::smooth;
use crate::common::render::paint::{Tri, mix};

impl Ready {
    /// Eyes, gill cover, belly and gravid spot over the trunk.
    pub(super) fn fooled(&self, p: &Place, colour: Tri) -> (Part, Tri) {
        match self.side {
            Side::Above => self.fooled_above(p, colour),
            Side::Side => self.fooled_side(p, colour),
        }
    }

    fn fooled_above(&self, p: &Place, colour: Tri) -> (Part, Tri) {
        let v = p.v.abs();
        // Eyes bulge at the head's sides.
        let e = ((p.u - 0.095) / (0.038 * self.coat.eye)).hypot((v - 0.80) / (0.26 * self.coat.eye.sqrt()));
        if e < 1.0 {
            return (Part::Eye, if e < 0.72 { self.eye } else { self.eye_ring });
        }
        if (0.16..0.225).contains(&p.u) && v > 0.55 {
            return (Part::Gill, mix(colour, self.gill, 0.6 * smooth(0.55, 0.75, v)));
        }
        if (0.27..0.50).contains(&p.u) && v > 0.70 {
            return (Part::Belly, mix(colour, self.belly, self.coat.belly.1 * smooth(0.70, 0.9, v)));
        }
        if self.coat.gravid > 0.0 && ((p.u - 0.56) / 0.06).hypot((v - 0.78) / 0.26) < 1.0 {
            return (Part::GravidSpot, mix(colour, self.spot, self.coat.gravid));
        }
        (Part::Trunk, colour)
    }

    fn fooled_side(&self, p: &Place, colour: Tri) -> (Part, Tri) {
        let e = ((p.u - 0.10) / 0.042).hypot((p.v + 0.15) / 0.26);
        if e < 1.0 {
            return (Part::Eye, if e < 0.62 { self.eye } else { self.eye_ring });
        }
        if (0.17..0.24).contains(&p.u) && p.v > -0.4 {
            return (Part::Gill, mix(colour, self.gill, 0.45));
        }
        if self.coat.gravid > 0.0 && ((p.u - 0.55) / 0.06).hypot((p.v - 0.62) / 0.3) < 1.0 {
            return (Part::GravidSpot, mix(colour, self.spot, self.coat.gravid));
        }
        if (0.24..0.52).contains(&p.u) && p.v > 0.35 {
            return (Part::Belly, mix(colour, self.belly, self.coat.belly.1 * smooth(0.35, 0.7, p.v)));
        }
        (Part::Trunk, colour)
    }
}
