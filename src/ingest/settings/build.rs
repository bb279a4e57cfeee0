use super::super::collector::Collector;
use super::builder::Builder;
use super::calibrated::calibrated;
use super::document::Document;
use super::keys::KEYS;
use super::sensible::unlikely;
use crate::trial::{Bar, Cutting, Diameters, Feet, Holding, Identity, Machine, Material, Prior, ScrewSense, Trial};
use serde_json::json;

/// What a settings file states as a trial without readings, with the gaps that only the readings can fill.
#[derive(Debug, Clone)]
pub(crate) struct Stated {
    /// Everything but the bar's diameter and length and the gauges' resolution, which are 0 where they are missing.
    pub(crate) trial: Trial,
    /// Whether the bar's diameter is missing.
    pub(crate) diameter_missing: bool,
    /// Whether the bar's length is missing.
    pub(crate) length_missing: bool,
}

/// Makes the tables of a trial; what is missing is assumed, and said in `trial.assumed`.
pub(crate) fn build(document: &Document, fallback_name: &str, collector: &mut Collector) -> Stated {
    let mut builder = Builder::of(document, collector);
    let identity = builder.identity(fallback_name);
    let machine = builder.machine();
    let bar = builder.bar();
    let cutting = builder.cutting();
    let gauge = builder.gauges();
    let testbar = document.has_table("testbar").then(|| builder.testbar());
    let conditions = builder.conditions();
    let prior = builder.prior();
    let acceptance = builder.acceptance();
    let simulate = document.has_table("simulate").then(|| builder.simulate());
    let plan = document.has_table("plan").then(|| builder.plan());
    let assumed = builder.assumed;
    unlikely(document).into_iter().chain(calibrated(document)).for_each(|finding| collector.add(finding));
    Stated {
        diameter_missing: document.number("bar.diameter_mm").is_none(),
        length_missing: document.number("bar.length_mm").is_none(),
        trial: Trial {
            identity,
            machine,
            bar,
            cutting,
            gauge,
            testbar,
            conditions,
            prior,
            acceptance,
            simulate,
            plan,
            diameters: Diameters::default(),
            levels: Vec::new(),
            indicator: Vec::new(),
            clamp: Vec::new(),
            moves: Vec::new(),
            assumed,
            inputs: Vec::new(),
            origin: crate::trial::Origin::default(),
            photographs: Vec::new(),
            findings: Vec::new(),
        },
    }
}

impl Builder<'_> {
    fn identity(&self, fallback_name: &str) -> Identity {
        let purpose = self.text("trial.purpose");
        let sale = purpose.as_deref().is_some_and(|purpose| purpose.trim().eq_ignore_ascii_case("sale"));
        Identity {
            name: self.text("trial.name").unwrap_or_else(|| fallback_name.to_owned()),
            date: self.text("trial.date"),
            paper: self.text("trial.paper").or_else(|| sale.then(|| "acceptance".to_owned())),
            purpose,
            repair: self.text("trial.repair"),
            measured_by: self.text("trial.measured_by"),
            witness: self.text("trial.witness"),
            notes: self.text("trial.notes"),
        }
    }

    fn machine(&mut self) -> Machine {
        let centre_height_mm = self.number("machine.centre_height_mm");
        let roll_arm_stated = self.number("machine.roll_arm_mm");
        let roll_arm_mm = roll_arm_stated.unwrap_or_else(|| match centre_height_mm {
            Some(height) => {
                self.assume("machine.roll_arm_mm", json!(height * 1.25), "centre height times 1.25");
                height * 1.25
            }
            None => {
                self.assume("machine.roll_arm_mm", json!(150.0), "no centre height stated; a small lathe's");
                150.0
            }
        });
        let (default_u, why) = if roll_arm_stated.is_none() && centre_height_mm.is_none() {
            (40.0, "no centre height stated; a small lathe's")
        } else {
            ((0.2 * roll_arm_mm.abs()).max(1.0), "20 % of the roll arm, at least 1 mm")
        };
        let roll_arm_u_mm = self.number_or("machine.roll_arm_u_mm", default_u, why);
        let swing_mm = self.number("machine.swing_mm").or_else(|| {
            let swing = centre_height_mm.map(|height| 2.0 * height);
            if let Some(swing) = swing {
                self.assume("machine.swing_mm", json!(swing), "twice the centre height");
            }
            swing
        });
        let feet = if self.document.has_table("machine.feet") {
            Some(self.feet())
        } else {
            self.assume("machine.feet", json!("unknown"), "not stated: no turn of a foot can be advised");
            None
        };
        Machine {
            name: self.text("machine.name"),
            serial: self.text("machine.serial"),
            class: self.text("machine.class"),
            centre_height_mm,
            swing_mm,
            between_centres_mm: self.number("machine.between_centres_mm"),
            roll_arm_mm,
            roll_arm_u_mm,
            feet,
        }
    }

    fn feet(&mut self) -> Feet {
        Feet {
            spacing_along_mm: self.missing("machine.feet.spacing_along_mm", "between headstock and tailstock feet"),
            spacing_across_mm: self.missing("machine.feet.spacing_across_mm", "between front and rear feet"),
            headstock_feet_to_chuck_face_mm: self.number("machine.feet.headstock_feet_to_chuck_face_mm"),
            screw_pitch_mm: self.number("machine.feet.screw_pitch_mm"),
            clockwise: self.document.text("machine.feet.clockwise").map(|word| match word {
                "raises" => ScrewSense::Raises,
                _ => ScrewSense::Lowers,
            }),
            finest_turn_deg: self.number_or("machine.feet.finest_turn_deg", 5.0, "what a careful hand can set; common practice, no source"),
        }
    }

    fn bar(&mut self) -> Bar {
        let named = self.document.text("bar.material").and_then(|name| Material::ALL.into_iter().find(|material| material.name() == name));
        let constants_stated = self.number("bar.youngs_modulus_gpa").is_some()
            && self.number("bar.expansion_um_per_m_k").is_some()
            && self.number("bar.k_c1_mpa").is_some();
        let material = named.or_else(|| {
            if constants_stated {
                return None;
            }
            self.assume("bar.material", json!(Material::MildSteel.name()), "the commonest bar stock");
            Some(Material::MildSteel)
        });
        let typical = material.unwrap_or(Material::MildSteel).constants();
        let constant = |builder: &mut Self, key: &str, typical: f64| match builder.number(key) {
            Some(stated) => stated,
            None if material.is_none() => builder.number_or(key, typical, "not stated; that of mild steel"),
            None => typical,
        };
        let youngs_modulus_gpa = constant(self, "bar.youngs_modulus_gpa", typical.youngs_modulus_gpa);
        let expansion_um_per_m_k = constant(self, "bar.expansion_um_per_m_k", typical.expansion_um_per_m_k);
        let k_c1_mpa = constant(self, "bar.k_c1_mpa", typical.k_c1_mpa);
        let kienzle_exponent = constant(self, "bar.kienzle_exponent", typical.kienzle_exponent);
        let holding = self.document.text("bar.holding").map(holding_of).unwrap_or_else(|| {
            self.assume("bar.holding", json!("chuck"), "the usual test");
            Holding::Chuck
        });
        let (length, diameter) = (self.number("bar.length_mm"), self.number("bar.diameter_mm"));
        let collars_mm = self.document.spans("bar.collars_mm").unwrap_or_default().to_vec();
        if let Some(span) = length.and_then(|length| collars_mm.iter().find(|span| span[1] > length * (1.0 + 1e-9))) {
            let found = format!("a collar from {} to {} mm", span[0], span[1]);
            self.collector.add(self.document.error("collar-outside-bar", "bar.collars_mm", found, "keep collars within length_mm"));
        }
        if collars_mm.windows(2).any(|pair| matches!(pair, [a, b] if a[1] > b[0])) {
            let found = "collars that overlap or are out of order";
            self.collector.add(self.document.error("collar-order", "bar.collars_mm", found, "list collars from the chuck outwards"));
        }
        let relief_diameter_mm = self.number("bar.relief_diameter_mm");
        if let (Some(relief), Some(diameter)) = (relief_diameter_mm, diameter)
            && relief > diameter
        {
            let found = format!("a relief of {relief} mm on a bar of {diameter} mm");
            let help = "the relief lies between the collars and is the smaller diameter";
            self.collector.add(self.document.error("relief-above-bar", "bar.relief_diameter_mm", found, help));
        }
        Bar {
            material,
            youngs_modulus_gpa,
            expansion_um_per_m_k,
            k_c1_mpa,
            kienzle_exponent,
            diameter_mm: diameter.unwrap_or(0.0),
            length_mm: length.unwrap_or(0.0),
            collars_mm,
            relief_diameter_mm,
            holding,
        }
    }

    fn cutting(&mut self) -> Cutting {
        Cutting {
            depth_mm: self.number_or("cutting.depth_mm", 0.1, "a light finishing cut"),
            feed_mm_per_rev: self.number_or("cutting.feed_mm_per_rev", 0.1, "a fine feed"),
            rpm: self.number("cutting.rpm"),
            nose_radius_mm: self.number_or("cutting.nose_radius_mm", 0.4, "a common finishing insert"),
            tool_height_u_mm: self.number_or("cutting.tool_height_u_mm", 0.3, "a tool set by eye against a centre"),
            tool_height_mm: self.number("cutting.tool_height_mm"),
        }
    }

    fn prior(&mut self) -> Prior {
        let typical = Prior::default();
        let get = |name: &str, default: f64| self.document.number(&format!("prior.{name}")).unwrap_or(default);
        let prior = Prior {
            yaw_mm_per_m: get("yaw_mm_per_m", typical.yaw_mm_per_m),
            twist_mm_per_m_per_m: get("twist_mm_per_m_per_m", typical.twist_mm_per_m_per_m),
            wear_um_per_m: get("wear_um_per_m", typical.wear_um_per_m),
            force_factor: get("force_factor", typical.force_factor),
            chuck_tilt_urad_per_nm: get("chuck_tilt_urad_per_nm", typical.chuck_tilt_urad_per_nm),
            centre_compliance_um_per_n: get("centre_compliance_um_per_n", typical.centre_compliance_um_per_n),
            gauge_noise_factor: get("gauge_noise_factor", typical.gauge_noise_factor),
            fresh_edge_um: get("fresh_edge_um", typical.fresh_edge_um),
            fresh_edge_m: get("fresh_edge_m", typical.fresh_edge_m),
            offset_mm: get("offset_mm", typical.offset_mm),
            way_wear_um: get("way_wear_um", typical.way_wear_um),
            way_wear_length_mm: get("way_wear_length_mm", typical.way_wear_length_mm),
            thermal_drift_um_per_min: get("thermal_drift_um_per_min", typical.thermal_drift_um_per_min),
            free_twist_mm_per_m_per_m: get("free_twist_mm_per_m_per_m", typical.free_twist_mm_per_m_per_m),
            move_gain: get("move_gain", typical.move_gain),
            move_gain_factor: get("move_gain_factor", typical.move_gain_factor),
            presence: get("presence", typical.presence),
        };
        let states = |key: &str| self.document.number(key).is_some();
        let is_prior = |key: &&str| key.starts_with("prior.");
        let unstated: Vec<(&str, f64)> = [
            ("prior.yaw_mm_per_m", prior.yaw_mm_per_m),
            ("prior.twist_mm_per_m_per_m", prior.twist_mm_per_m_per_m),
            ("prior.offset_mm", prior.offset_mm),
        ]
        .into_iter()
        .filter(|(key, _)| !states(key))
        .collect();
        if !KEYS.iter().map(|key| key.path).filter(is_prior).any(states) {
            self.assume("prior", json!("defaults"), "common practice, no source");
        } else {
            // those that a steep taper may widen
            for (key, value) in unstated {
                self.assume(key, json!(value), "common practice, no source");
            }
        }
        prior
    }
}

pub(super) fn holding_of(word: &str) -> Holding {
    match word {
        "centres" => Holding::Centres,
        "chuck-and-centre" => Holding::ChuckAndCentre,
        _ => Holding::Chuck,
    }
}
