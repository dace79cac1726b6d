//! An embedded ICC profile as tables of ours, or as a way to bring the pixels to sRGB.

use moxcms::{ColorProfile, DataColorSpace, Layout, ProfileText, RenderingIntent, ToneReprCurve, TransformOptions};

use super::{Profile, Samples};
use crate::colour::{D50_WHITE, SRGB_TO_XYZ_D50};
use crate::error::Warning;

/// How far a matrix profile's white may be from D50, a colour-managed file's white (ICC.1:2022 section 7.2.16), before the profile
/// counts as broken; sound ones are within 0.001.
const WHITE_TOLERANCE: f64 = 0.02;

/// Entries by which a matrix may differ from the identity and still be sRGB: what profiles' own rounding leaves.
const SAME_PRIMARIES: f64 = 0.002;

/// What the file's profile says about its pixels.
pub(super) enum Managed {
    /// Tables and a matrix do.
    Tables(Profile),
    /// The profile is a table of colours itself; pixels must be sent through the table of that intent.
    Through(Box<ColorProfile>, RenderingIntent),
}

/// Reads a profile for RGB samples, or for grey ones spread over three channels.
///
/// # Errors
/// Why the profile cannot be used, as a clause.
pub(super) fn read(bytes: &[u8], grey: bool, sixteen: bool) -> Result<Managed, String> {
    let profile = ColorProfile::new_from_slice(bytes).map_err(|e| format!("it cannot be read: {e}"))?;
    let name = name(&profile);
    match (profile.color_space, grey) {
        (DataColorSpace::Gray, true) => {
            let trc = profile.gray_trc.as_ref().ok_or("it has no tone curve")?;
            let curve = evaluator(trc)?;
            Ok(Managed::Tables(Profile::from_curves(&name, |_, v| curve(v), None, sixteen)))
        }
        (DataColorSpace::Rgb, true) => matrix_profile(&profile, &name, sixteen),
        (DataColorSpace::Rgb, false) => match table(&profile) {
            Some(intent) => Ok(Managed::Through(Box::new(profile), intent)),
            None => matrix_profile(&profile, &name, sixteen),
        },
        (space, _) => Err(format!("it is for {space:?} values")),
    }
}

/// The table of colours that stands in for tone curves and matrix (it goes before them: ICC.1:2022 section 8.10.2). One that
/// renders perceptually may have changed colours to please, so that it is only taken where no other is there.
fn table(profile: &ColorProfile) -> Option<RenderingIntent> {
    let colorimetric = profile.lut_a_to_b_colorimetric.is_some().then_some(RenderingIntent::RelativeColorimetric);
    colorimetric.or_else(|| profile.lut_a_to_b_perceptual.is_some().then_some(RenderingIntent::Perceptual))
}

fn matrix_profile(profile: &ColorProfile, name: &str, sixteen: bool) -> Result<Managed, String> {
    let trc = [&profile.red_trc, &profile.green_trc, &profile.blue_trc];
    let mut curves = Vec::with_capacity(3);
    for t in trc {
        curves.push(evaluator(t.as_ref().ok_or("it has no tone curves")?)?);
    }
    let to_xyz = profile.colorant_matrix().v;
    let off = |r: usize| (to_xyz[r].iter().sum::<f64>() - D50_WHITE[r]).abs();
    if (0..3).any(|r| off(r).is_nan() || off(r) > WHITE_TOLERANCE) {
        return Err("its white is not the D50 of a colour profile".to_owned());
    }
    let matrix = to_srgb(&to_xyz);
    Ok(Managed::Tables(Profile::from_curves(name, |c, v| curves[c](v), matrix, sixteen)))
}

/// From a profile's own RGB to linear sRGB; `None` when that is the same.
fn to_srgb(to_xyz: &[[f64; 3]; 3]) -> Option<[[f32; 3]; 3]> {
    let back = inverse(&SRGB_TO_XYZ_D50);
    #[expect(clippy::cast_possible_truncation, reason = "matrix entries of about 1 are kept as f32")]
    let m: [[f32; 3]; 3] =
        std::array::from_fn(|r| std::array::from_fn(|c| (0..3).map(|k| back[r][k] * to_xyz[k][c]).sum::<f64>() as f32));
    let near = |r: usize, c: usize| (f64::from(m[r][c]) - f64::from(u8::from(r == c))).abs() < SAME_PRIMARIES;
    let same = (0..3).all(|r| (0..3).all(|c| near(r, c)));
    (!same).then_some(m)
}

/// Inverse of a 3 × 3 matrix that is known to have one.
fn inverse(m: &[[f64; 3]; 3]) -> [[f64; 3]; 3] {
    crate::geometry::Homography(*m).inverse().map_or([[0.0; 3]; 3], |h| h.0)
}

/// A tone curve as a function of 0…1, checked to rise to 1.
fn evaluator(curve: &ToneReprCurve) -> Result<impl Fn(f64) -> f64 + use<>, String> {
    let made = curve.make_linear_evaluator().map_err(|e| format!("its tone curve cannot be read: {e}"))?;
    #[expect(clippy::cast_possible_truncation, reason = "the reader of profiles works in f32")]
    let value = move |v: f64| f64::from(made.evaluate_value(v as f32));
    let (dark, middle, white) = (value(0.0), value(0.5), value(1.0));
    // A tone curve that falls, stays level or misses white belongs to no picture.
    if dark < middle && middle < white && (white - 1.0).abs() < 0.01 && dark.abs() < 0.1 {
        Ok(value)
    } else {
        Err("its tone curve does not rise from black to white".to_owned())
    }
}

/// What the profile calls itself.
fn name(profile: &ColorProfile) -> String {
    let text = match &profile.description {
        Some(ProfileText::PlainString(s)) => s.clone(),
        Some(ProfileText::Localizable(all)) => all.first().map(|s| s.value.clone()).unwrap_or_default(),
        Some(ProfileText::Description(d)) => d.ascii_string.clone(),
        None => String::new(),
    };
    let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\0');
    if text.is_empty() { "embedded profile".to_owned() } else { text.to_owned() }
}

/// Sends every pixel through a profile's table of that intent; the result is sRGB with 16 bits a channel.
///
/// # Errors
/// Why that cannot be done, as a clause.
pub(super) fn through(
    profile: &ColorProfile,
    rendering_intent: RenderingIntent,
    samples: &Samples,
) -> Result<(Samples, Profile, Warning), String> {
    let from: Vec<u16> = match samples {
        // 255 becomes 65535 exactly.
        Samples::Eight(v) => v.iter().map(|&s| u16::from(s) * 257).collect(),
        Samples::Sixteen(v) => v.clone(),
    };
    let mut to = vec![0u16; from.len()];
    let options = TransformOptions { rendering_intent, ..TransformOptions::default() };
    profile
        .create_transform_16bit(Layout::Rgb, &ColorProfile::new_srgb(), Layout::Rgb, options)
        .and_then(|t| t.transform(&from, &mut to))
        .map_err(|e| format!("its colour table cannot be used: {e}"))?;
    let warning = Warning::new(
        "table-profile",
        format!(
            "the colour profile '{}' is a table; colours beyond sRGB are cut off to it (export the photo as sRGB or Display P3)",
            name(profile)
        ),
    );
    let srgb = Profile::from_curves(&name(profile), |_, v| crate::colour::srgb_decode(v), None, true);
    Ok((Samples::Sixteen(to), srgb, warning))
}
