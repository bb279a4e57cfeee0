use schemars::JsonSchema;
use serde::Serialize;

/// The lathe under trial.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Machine {
    /// Name.
    pub name: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Class, free text used to choose limits.
    pub class: Option<String>,
    /// Height of the spindle axis above the ways, mm; `None` when not stated.
    pub centre_height_mm: Option<f64>,
    /// Largest diameter over the bed, mm; default twice the centre height.
    pub swing_mm: Option<f64>,
    /// Distance between centres, mm.
    pub between_centres_mm: Option<f64>,
    /// Roll arm `h`: sideways movement of the tool against the spindle axis per radian of roll, mm.
    pub roll_arm_mm: f64,
    /// Standard uncertainty of the roll arm, mm.
    pub roll_arm_u_mm: f64,
    /// Feet, where they are known.
    pub feet: Option<Feet>,
}

/// Where the feet stand and what their screws do.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Feet {
    /// Distance between headstock and tailstock feet along the bed, mm.
    pub spacing_along_mm: f64,
    /// Distance between front and rear feet, mm.
    pub spacing_across_mm: f64,
    /// From the headstock feet to the chuck face, mm.
    pub headstock_feet_to_chuck_face_mm: Option<f64>,
    /// Pitch of the foot screws, mm per turn.
    pub screw_pitch_mm: Option<f64>,
    /// What a clockwise turn does, seen from above.
    pub clockwise: Option<ScrewSense>,
    /// Finest turn that a hand can set, degrees.
    pub finest_turn_deg: f64,
}

/// What a clockwise turn of a foot screw, seen from above, does to the machine there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ScrewSense {
    /// The machine goes down at that foot.
    Lowers,
    /// The machine goes up at that foot.
    Raises,
}

/// One of the four feet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Foot {
    /// Under the headstock, operator's side.
    HeadstockFront,
    /// Under the headstock, far side.
    HeadstockRear,
    /// Under the tailstock, operator's side.
    TailstockFront,
    /// Under the tailstock, far side.
    TailstockRear,
}

impl Foot {
    /// All four, in the contract's order.
    pub const ALL: [Self; 4] = [Self::HeadstockFront, Self::HeadstockRear, Self::TailstockFront, Self::TailstockRear];

    /// Sign of the twist that raising this foot makes: + for tailstock rear and headstock front, − for the others.
    #[must_use]
    pub fn twist_sign(self) -> f64 {
        match self {
            Self::TailstockRear | Self::HeadstockFront => 1.0,
            Self::TailstockFront | Self::HeadstockRear => -1.0,
        }
    }

    /// The foot in the words of the shop.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::HeadstockFront => "front foot at the headstock end",
            Self::HeadstockRear => "rear foot at the headstock end",
            Self::TailstockFront => "front foot at the tailstock end",
            Self::TailstockRear => "rear foot at the tailstock end",
        }
    }

    /// The foot's name as logs write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::HeadstockFront => "headstock-front",
            Self::HeadstockRear => "headstock-rear",
            Self::TailstockFront => "tailstock-front",
            Self::TailstockRear => "tailstock-rear",
        }
    }
}
