//! Repeatable noise from integer hashes: the same place and seed give the same value on every machine.

/// A well mixed 32-bit hash of a lattice place (the finaliser of MurmurHash3, public domain).
pub fn hash(x: i32, y: i32, seed: u32) -> u32 {
    let mut h =
        (x as u32).wrapping_mul(0x9E37_79B1) ^ (y as u32).wrapping_mul(0x85EB_CA77) ^ seed.wrapping_mul(0xC2B2_AE3D);
    h ^= h >> 16;
    h = h.wrapping_mul(0x85EB_CA6B);
    h ^= h >> 13;
    h = h.wrapping_mul(0xC2B2_AE35);
    h ^ (h >> 16)
}

/// Uniform in [0, 1).
pub fn uniform(x: i32, y: i32, seed: u32) -> f64 {
    f64::from(hash(x, y, seed)) / 4_294_967_296.0
}

/// Nearly normal, mean 0 and standard deviation 1: the sum of a hash's four bytes, scaled (Irwin–Hall, n = 4).
pub fn normal(x: i32, y: i32, seed: u32) -> f32 {
    let sum: u16 = hash(x, y, seed).to_le_bytes().iter().map(|&b| u16::from(b)).sum();
    // Each byte has mean 127.5 and variance (256² − 1) / 12.
    (f32::from(sum) - 510.0) / 147.8
}

/// Smooth value noise in 0…1 with features of about one unit.
pub fn value(x: f64, y: f64, seed: u32) -> f64 {
    let (ix, iy) = (x.floor(), y.floor());
    let (u, v) = (ease(x - ix), ease(y - iy));
    let (i, j) = (ix as i32, iy as i32);
    let top = uniform(i, j, seed) * (1.0 - u) + uniform(i + 1, j, seed) * u;
    let low = uniform(i, j + 1, seed) * (1.0 - u) + uniform(i + 1, j + 1, seed) * u;
    top * (1.0 - v) + low * v
}

/// Two octaves of [`value`], 0…1.
pub fn cloud(x: f64, y: f64, seed: u32) -> f64 {
    0.68 * value(x, y, seed) + 0.32 * value(2.3 * x + 17.0, 2.3 * y - 5.0, seed ^ 0x5bd1)
}

/// 3t² − 2t³.
fn ease(t: f64) -> f64 {
    t * t * (3.0 - 2.0 * t)
}

/// 0 below `from`, 1 above `to`, smooth between.
pub fn smooth(from: f64, to: f64, x: f64) -> f64 {
    ease(((x - from) / (to - from)).clamp(0.0, 1.0))
}
