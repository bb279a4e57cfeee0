//! Every key of `trial.toml` and of a criteria file: adding one is one line here and one where the trial is built.

use super::super::words::{CAUSES, CLOCKWISE, DIRECTIONS, FEET, HOLDINGS, LOGS, MATERIALS, PAPERS, PROVENANCES, QUANTITIES, RULES, SENSES};

/// Which numbers a key may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// Any finite number.
    Any,
    /// Zero or more.
    NotNegative,
    /// More than zero.
    Positive,
    /// From 0 to 1.
    Fraction,
    /// A multiplicative factor: 1 or more.
    Factor,
}

/// What a key holds, and by that which inch twin it has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyKind {
    /// Free text.
    Text,
    /// A date, `YYYY-MM-DD`.
    Date,
    /// True or false.
    Flag,
    /// A whole number from 0 (or from 1).
    Whole {
        /// The least number allowed.
        least: u32,
    },
    /// A number without a twin.
    Number(Sign),
    /// A length: `_mm`, twin `_in`.
    Length(Sign),
    /// A feed: `_mm_per_rev`, twin `_in_per_rev`.
    Feed(Sign),
    /// A slope: `_mm_per_m`, twin `_in_per_ft`.
    Slope(Sign),
    /// A temperature: `_c`, twin `_f`.
    Temperature,
    /// A difference of temperatures: `_c`, twin `_f`.
    TemperatureDifference,
    /// A screw's pitch: `screw_pitch_mm`, twin `screw_threads_per_inch`.
    Pitch,
    /// A list of numbers without a twin.
    Numbers(Sign),
    /// A list of lengths: `_mm`, twin `_in`.
    Lengths(Sign),
    /// A list of feeds: `_mm_per_rev`, twin `_in_per_rev`.
    Feeds(Sign),
    /// A list of `[from, to]` pairs of lengths: `_mm`, twin `_in`.
    Spans,
    /// One of these words.
    Word(&'static [&'static str]),
    /// A list of these words.
    Words(&'static [&'static str]),
}

/// One key of `trial.toml`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Dotted path; `*` is a name of the user's choice, `[]` an array of tables.
    pub path: &'static str,
    /// What it holds.
    pub kind: KeyKind,
    /// One clause on what it means.
    pub about: &'static str,
}

const fn key(path: &'static str, kind: KeyKind, about: &'static str) -> Key {
    Key { path, kind, about }
}

use KeyKind::{
    Date, Feed, Feeds, Flag, Length, Lengths, Number, Numbers, Pitch, Slope, Spans, Temperature, TemperatureDifference, Text, Whole, Word,
    Words,
};
use Sign::{Any, Factor, Fraction, NotNegative, Positive};

/// All keys, in the order of the contract.
pub static KEYS: &[Key] = &[
    key("trial.name", Text, "name of the trial, as file names show it"),
    key("trial.date", Date, "day of the trial; absent: not stated"),
    key("trial.purpose", Text, "free text; \"sale\" implies paper = \"acceptance\""),
    key("trial.paper", Word(PAPERS), "a page fit for signing"),
    key("trial.measured_by", Text, "who measured"),
    key("trial.witness", Text, "who looked on"),
    key("trial.notes", Text, "free notes"),
    key("trial.repair", Text, "what was done to the machine since the trial before: `taperwright history` compares before and after"),
    key("machine.name", Text, "name of the lathe"),
    key("machine.serial", Text, "serial number"),
    key("machine.class", Text, "class, used to choose limits"),
    key("machine.centre_height_mm", Length(Positive), "height of the spindle axis above the ways"),
    key("machine.swing_mm", Length(Positive), "largest diameter over the bed; default twice the centre height"),
    key("machine.between_centres_mm", Length(Positive), "distance between centres"),
    key(
        "machine.roll_arm_mm",
        Length(Any),
        "sideways movement of the tool per unit of roll; default centre height times 1.25 where that is stated",
    ),
    key("machine.roll_arm_u_mm", Length(Positive), "its standard uncertainty; default 20 %"),
    key("machine.feet.spacing_along_mm", Length(Positive), "between headstock and tailstock feet"),
    key("machine.feet.spacing_across_mm", Length(Positive), "between front and rear feet"),
    key("machine.feet.headstock_feet_to_chuck_face_mm", Length(Any), "along the bed, to the front of the jaws: where stations are 0"),
    key("machine.feet.screw_pitch_mm", Pitch, "pitch of the foot screws"),
    key("machine.feet.clockwise", Word(CLOCKWISE), "what a clockwise turn, seen from above, does to the machine"),
    key("machine.feet.finest_turn_deg", Number(Positive), "finest turn that a hand can set"),
    key("bar.material", Word(MATERIALS), "material of the bar"),
    key("bar.youngs_modulus_gpa", Number(Positive), "Young's modulus; default that of the material"),
    key("bar.expansion_um_per_m_k", Number(NotNegative), "coefficient of thermal expansion; default that of the material"),
    key("bar.k_c1_mpa", Number(Positive), "Kienzle's specific cutting force; default that of the material"),
    key("bar.kienzle_exponent", Number(Fraction), "Kienzle's exponent; default that of the material"),
    key("bar.diameter_mm", Length(Positive), "diameter of the bar"),
    key("bar.length_mm", Length(Positive), "free length out of the chuck's jaws, from where stations are counted too, or between centres"),
    key("bar.collars_mm", Spans, "where there is metal to cut"),
    key("bar.relief_diameter_mm", Length(Positive), "diameter between the collars"),
    key("bar.holding", Word(HOLDINGS), "how the bar is held"),
    key("cutting.depth_mm", Length(NotNegative), "radial depth of cut"),
    key("cutting.feed_mm_per_rev", Feed(Positive), "feed"),
    key("cutting.rpm", Number(Positive), "spindle speed"),
    key("cutting.nose_radius_mm", Length(Positive), "nose radius of the tool"),
    key("cutting.tool_height_u_mm", Length(NotNegative), "standard uncertainty of the tool's height"),
    key("cutting.tool_height_mm", Length(Any), "axis minus tool height, where it is known"),
    key("gauge.diameter.name", Text, "name of the gauge"),
    key("gauge.diameter.serial", Text, "serial number"),
    key("gauge.diameter.calibrated", Date, "day of calibration"),
    key("gauge.diameter.certificate", Text, "number of the certificate"),
    key("gauge.diameter.resolution_mm", Length(Positive), "smallest step of the reading"),
    key("gauge.diameter.u_mm", Length(Positive), "touch and reading of one reading, without calibration"),
    key("gauge.diameter.calibration_u_mm", Length(NotNegative), "common to all readings"),
    key("gauge.diameter.*.name", Text, "name of the gauge"),
    key("gauge.diameter.*.serial", Text, "serial number"),
    key("gauge.diameter.*.calibrated", Date, "day of calibration"),
    key("gauge.diameter.*.certificate", Text, "number of the certificate"),
    key("gauge.diameter.*.resolution_mm", Length(Positive), "smallest step of the reading"),
    key("gauge.diameter.*.u_mm", Length(Positive), "touch and reading of one reading, without calibration"),
    key("gauge.diameter.*.calibration_u_mm", Length(NotNegative), "common to all readings"),
    key("gauge.level.name", Text, "name of the gauge"),
    key("gauge.level.serial", Text, "serial number"),
    key("gauge.level.calibrated", Date, "day of calibration"),
    key("gauge.level.certificate", Text, "number of the certificate"),
    key("gauge.level.u_mm_per_m", Slope(Positive), "standard uncertainty of one reading"),
    key("gauge.level.division_mm_per_m", Slope(Positive), "value of one division"),
    key("gauge.indicator.name", Text, "name of the gauge"),
    key("gauge.indicator.serial", Text, "serial number"),
    key("gauge.indicator.calibrated", Date, "day of calibration"),
    key("gauge.indicator.certificate", Text, "number of the certificate"),
    key("gauge.indicator.u_mm", Length(Positive), "standard uncertainty of one reading"),
    key("testbar.taper_um", Number(Any), "taper over its length, from its certificate"),
    key("testbar.u_um", Number(NotNegative), "standard uncertainty of that taper"),
    key("testbar.length_mm", Length(Positive), "length to which both belong"),
    key("testbar.diameter_mm", Length(Positive), "diameter of the test bar, taken as solid steel: how much it sags under a reading on top"),
    key("testbar.holding", Word(HOLDINGS), "how the test bar is held"),
    key("testbar.turned_here", Flag, "turned in this very chucking: refused as evidence"),
    key("conditions.temperature_c", Temperature, "temperature of the room"),
    key("conditions.temperature_spread_c", TemperatureDifference, "half-width: how unlike the ends of the bar may be"),
    key("prior.yaw_mm_per_m", Number(Positive), "standard deviation of headstock yaw"),
    key("prior.twist_mm_per_m_per_m", Number(Positive), "standard deviation of bed twist"),
    key("prior.wear_um_per_m", Number(Positive), "standard deviation of tool wear, half-normal, per metre of bar cut along"),
    key("prior.force_factor", Number(Factor), "multiplicative, around 1"),
    key("prior.chuck_tilt_urad_per_nm", Number(Positive), "tilt compliance of the chuck"),
    key("prior.centre_compliance_um_per_n", Number(Positive), "compliance of a centre"),
    key("prior.gauge_noise_factor", Number(Factor), "multiplicative, around the data sheet"),
    key("prior.fresh_edge_um", Number(Positive), "extra wear of a fresh edge"),
    key("prior.fresh_edge_m", Number(Positive), "cutting path (surface past the edge, not length of bar) over which it settles"),
    key("prior.offset_mm", Number(Positive), "standard deviation of the tailstock offset"),
    key("prior.way_wear_um", Number(Positive), "way wear at its worst place"),
    key("prior.way_wear_length_mm", Number(Positive), "length over which it varies"),
    key("prior.thermal_drift_um_per_min", Number(Positive), "standard deviation of thermal drift"),
    key("prior.free_twist_mm_per_m_per_m", Number(Positive), "twist of the free bed"),
    key("prior.move_gain", Number(Positive), "median gain of a move"),
    key("prior.move_gain_factor", Number(Factor), "multiplicative standard deviation of that gain"),
    key("prior.presence", Number(Fraction), "prior probability that a cause is more than negligible"),
    key("acceptance.criteria", Text, "a built-in set or a file"),
    key("acceptance.decision_rule", Word(RULES), "how a limit and an uncertainty make a decision; default that of the criteria"),
    key("acceptance.probability", Number(Fraction), "probability of conformity that is asked for; default 0.95"),
    key("acceptance.limit[].quantity", Word(QUANTITIES), "what is limited"),
    key(
        "acceptance.limit[].limit_mm",
        Length(Positive),
        "the limit; of adjacent-bands a ratio (75 % is written 0.75), of level-variation mm/m",
    ),
    key("acceptance.limit[].over_mm", Length(Positive), "length to which it belongs"),
    key("acceptance.limit[].sense", Word(SENSES), "the deviation that is allowed"),
    key("acceptance.limit[].floor_mm", Length(NotNegative), "what a directional limit still allows the other way"),
    key("simulate.logs", Words(LOGS), "logs to write"),
    key("simulate.settings", Whole { least: 1 }, "number of settings"),
    key("simulate.passes", Whole { least: 1 }, "passes per setting and direction"),
    key("simulate.directions", Words(DIRECTIONS), "directions cut"),
    key("simulate.repeats", Whole { least: 1 }, "readings at each station"),
    key("simulate.stations_mm", Lengths(NotNegative), "stations"),
    key("simulate.noise_factor", Number(NotNegative), "noise as a multiple of the data sheets"),
    key("simulate.depths_mm", Lengths(NotNegative), "radial depth of each pass in turn"),
    key("simulate.feeds_mm_per_rev", Feeds(Positive), "feed of each pass in turn"),
    key("simulate.fresh_edges", Flag, "whether every pass has an edge of its own"),
    key("simulate.level_stations_mm", Lengths(Any), "places on the bed at which levels are read"),
    key("simulate.levels_reversed", Flag, "whether levels are read a second time, turned end for end"),
    key("simulate.spindle_deg", Numbers(Any), "angles of the spindle at which the indicator runs"),
    key("simulate.moves[].from_setting", Whole { least: 0 }, "setting before"),
    key("simulate.moves[].to_setting", Whole { least: 0 }, "setting after"),
    key("simulate.moves[].foot", Word(FEET), "foot moved"),
    key("simulate.moves[].raise_mm", Length(Any), "how far it was raised"),
    key("simulate.truth.yaw_mm_per_m", Number(Any), "headstock yaw"),
    key("simulate.truth.twist_mm_per_m_per_m", Number(Any), "bed twist"),
    key("simulate.truth.wear_um_per_m", Number(NotNegative), "tool wear per metre of bar cut along"),
    key("simulate.truth.force_factor", Number(NotNegative), "factor on the cutting force"),
    key("simulate.truth.chuck_tilt_urad_per_nm", Number(NotNegative), "tilt compliance of the chuck"),
    key("simulate.truth.centre_compliance_um_per_n", Number(NotNegative), "compliance of a centre"),
    key("simulate.truth.gauge_noise_factor", Number(NotNegative), "factor on each gauge's noise"),
    key("simulate.truth.fresh_edge_um", Number(NotNegative), "extra wear of a fresh edge"),
    key("simulate.truth.fresh_edge_m", Number(Positive), "cutting path (surface past the edge, not length of bar) over which it settles"),
    key("simulate.truth.offset_mm", Number(Any), "tailstock offset, positive = to the rear"),
    key("simulate.truth.way_wear_um", Number(Any), "way wear at its worst place"),
    key("simulate.truth.way_wear_length_mm", Number(Positive), "length over which it varies"),
    key("simulate.truth.thermal_drift_um_per_min", Number(Any), "thermal drift"),
    key("simulate.truth.free_twist_mm_per_m_per_m", Number(Any), "twist of the free bed"),
    key("simulate.truth.move_gain", Number(Any), "gain of a move"),
    key("simulate.truth.between_pass_um", Number(NotNegative), "standard deviation between passes of the taper over the tested length"),
    key("simulate.truth.to_tailstock_force_factor", Number(NotNegative), "factor on the cutting force of a pass to the tailstock"),
    key("simulate.truth.level_zero_mm_per_m", Number(Any), "zero error of the level"),
    key("simulate.truth.run_out_mm", Number(Any), "run-out of the test bar near the chuck"),
    key("simulate.truth.vertical_mm_per_m", Number(Any), "vertical misalignment, positive = free end up"),
    key("plan.settle", Words(CAUSES), "causes that must be settled"),
    key("plan.target_expanded_mm", Length(Positive), "wanted expanded uncertainty; default a quarter of the limit"),
    key("plan.minutes_per_pass", Number(Positive), "minutes that one pass takes"),
    key("plan.minutes_per_reading", Number(Positive), "minutes that one reading takes"),
    key("plan.minutes_per_setup", Number(Positive), "minutes that setting up takes"),
];

/// All keys of a criteria file.
pub static CRITERIA_KEYS: &[Key] = &[
    key("name", Text, "name of the set"),
    key("title", Text, "title for the page"),
    key("source", Text, "where the limits come from"),
    key("decision_rule", Word(RULES), "how a limit and an uncertainty make a decision"),
    key("probability", Number(Fraction), "probability of conformity that is asked for; default 0.95"),
    key("limit[].quantity", Word(QUANTITIES), "what is limited"),
    key("limit[].limit_mm", Length(Positive), "the limit; of adjacent-bands a ratio (75 % is written 0.75), of level-variation mm/m"),
    key("limit[].over_mm", Length(Positive), "length to which it belongs"),
    key("limit[].sense", Word(SENSES), "the deviation that is allowed"),
    key("limit[].floor_mm", Length(NotNegative), "what a directional limit still allows the other way"),
    key("limit[].clause", Text, "clause of the source"),
    key("limit[].source", Text, "source of this limit, where it is not that of the set"),
    key(
        "limit[].provenance",
        Word(PROVENANCES),
        "read: compared with the source itself; from-memory: not compared, written down from memory or at second hand",
    ),
    key("limit[].swing_from_mm", Length(NotNegative), "smallest swing to which it applies"),
    key("limit[].swing_to_mm", Length(Positive), "largest swing to which it applies"),
];

impl Key {
    /// Its last part, such as `diameter_mm`.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.path.rsplit('.').next().unwrap_or(self.path)
    }

    /// The path of its table, such as `machine.feet`.
    #[must_use]
    pub fn table(&self) -> &'static str {
        self.path.rsplit_once('.').map_or("", |(table, _)| table)
    }

    /// The name of its inch twin, such as `diameter_in`; `None` where it has none.
    #[must_use]
    pub fn inch_twin(&self) -> Option<String> {
        let swap = |metric: &str, inch: &str| self.name().strip_suffix(metric).map(|stem| format!("{stem}{inch}"));
        match self.kind {
            Length(_) | Lengths(_) | Spans => swap("_mm", "_in"),
            Feed(_) | Feeds(_) => swap("_mm_per_rev", "_in_per_rev"),
            Slope(_) => swap("_mm_per_m", "_in_per_ft"),
            Temperature | TemperatureDifference => swap("_c", "_f"),
            Pitch => Some("screw_threads_per_inch".to_owned()),
            Text | Date | Flag | Whole { .. } | Number(_) | Numbers(_) | Word(_) | Words(_) => None,
        }
    }
}
