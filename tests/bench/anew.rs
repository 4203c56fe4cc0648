//! Stages that nobody has seen: those of the corpus drawn anew by a number.
//!
//! Takes the text of a scene, gives that of another: other performances, a floor that is longer or shorter and wider or narrower, walls
//! that reflect more or less. Names, roles, levels and songs stay.

use toml::Value;

/// A floor is stretched by factors between these.
const STRETCH: [f64; 2] = [0.85, 1.25];

/// Walls reflect this much less or more.
const WALLS: [f64; 2] = [0.8, 1.2];

/// The scene drawn anew.
pub(crate) fn anew(text: &str, number: u64) -> String {
    let mut scene: Value = toml::from_str(text).expect("a scene of the corpus");
    let seed = scene["seed"].as_integer().expect("a seed").unsigned_abs();
    let mut draws = Draws(seed ^ number.wrapping_mul(0x2545_f491_4f6c_dd1d));
    let stretch = [draws.between(STRETCH), draws.between(STRETCH)];
    place(&mut scene, stretch);
    let walls = draws.between(WALLS);
    if let Some(share) = scene.get_mut("hall").and_then(|hall| hall.get_mut("wall_reflection")) {
        *share = Value::Float((walls * share.as_float().expect("a share")).min(0.9));
    }
    scene["seed"] = Value::Integer(i64::from(draws.next()));
    toml::to_string(&scene).expect("a scene")
}

/// Stretches every place on the floor: `at_m` and `towards_m`, anywhere in the scene.
fn place(value: &mut Value, stretch: [f64; 2]) {
    match value {
        Value::Table(table) => {
            for (key, value) in table {
                match value {
                    Value::Array(at) if key == "at_m" || key == "towards_m" => {
                        for (metres, factor) in at.iter_mut().zip(stretch) {
                            *metres = Value::Float(factor * metres.as_float().expect("metres"));
                        }
                    }
                    _ => place(value, stretch),
                }
            }
        }
        Value::Array(values) => values.iter_mut().for_each(|value| place(value, stretch)),
        _ => {}
    }
}

/// Numbers by seed (splitmix64; Steele, Lea & Flood 2014).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> u32 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (bits >> 32) as u32
    }

    fn between(&mut self, [low, high]: [f64; 2]) -> f64 {
        low + (high - low) * f64::from(self.next()) / f64::from(u32::MAX)
    }
}
