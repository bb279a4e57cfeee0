//! One-way and nested analysis, random groups, univariate summaries: StRD, e-Handbook, GUM H.5, and closed-form REML.

use super::fixture::{Table, json, number, text};
use super::tolerances::{R_LINEAR, Tolerance, assert_near, matching_digits};
use taperwright::statistics::distributions::{f_quantile, f_sf};
use taperwright::statistics::{FTest, Nested, OneWay, Summary};

fn groups_of(labels: &[String], y: &[f64]) -> Vec<Vec<f64>> {
    let mut names: Vec<&String> = Vec::new();
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for (label, y) in labels.iter().zip(y) {
        let at = names.iter().position(|n| *n == label).unwrap_or_else(|| {
            names.push(label);
            groups.push(Vec::new());
            names.len() - 1
        });
        groups[at].push(*y);
    }
    groups
}

/// Groups by the text of one column, values from another.
fn read_groups(path: &str, label: usize, value: usize) -> Vec<Vec<f64>> {
    let text = text(path);
    let rows: Vec<Vec<&str>> = text.lines().skip(1).filter(|l| !l.is_empty()).map(|l| l.split(',').collect()).collect();
    let labels: Vec<String> = rows.iter().map(|r| r[label].to_owned()).collect();
    let values: Vec<f64> = rows.iter().map(|r| r[value].parse().unwrap()).collect();
    groups_of(&labels, &values)
}

/// The SmLs sets: groups of 21, 201 or 2001, first a value a, then a ∓ 0.1 in turn, the nine groups centred at 1.4, 1.3, … as NIST generates them.
fn small_least_squares(base: f64, size: usize, first: &[f64]) -> Vec<Vec<f64>> {
    first.iter().map(|a| (0..size).map(|i| base + if i == 0 { *a } else { a + if i % 2 == 1 { -0.1 } else { 0.1 } }).collect()).collect()
}

#[test]
fn strd_univariate_digits() {
    // Digits reached in mean, standard deviation, lag-1 autocorrelation. NumAcc3 and 4 are bounded by the rounding of their data to binary (resolution
    // 2e-10 and 2e-9 on deviations of 0.1).
    for (name, digits) in
        [("NumAcc1", 15.0), ("NumAcc2", 14.0), ("NumAcc3", 9.3), ("NumAcc4", 8.2), ("Lew", 14.5), ("Lottery", 14.5), ("Mavro", 12.8)]
    {
        let certified = json(&format!("published/nist-strd-1998/{name}.json"));
        let found = Summary::of(Table::read(&format!("published/nist-strd-1998/{name}.csv")).column("y")).unwrap();
        let pairs = [(found.mean, "mean"), (found.sd.unwrap(), "sd"), (found.lag1.unwrap(), "autocorr_lag1")];
        let worst = pairs.iter().map(|(v, key)| matching_digits(*v, number(&certified, &format!("/certified/{key}")))).fold(17.0, f64::min);
        println!("{name:<8} {worst:.2}");
        assert!(worst >= digits, "{name}: {worst:.2} digits");
        assert!(
            matching_digits(found.sd.unwrap() * (1.0 + 2.0 * 10_f64.powf(-digits)), number(&certified, "/certified/sd")) < digits,
            "the check can fail"
        );
    }
    assert!(Summary::of(&[]).is_none() && Summary::of(&[f64::NAN]).is_none());
    assert_eq!(Summary::of(&[3.0]).map(|s| (s.mean, s.sd, s.lag1)), Some((3.0, None, None)));
}

#[test]
fn strd_one_way_digits() {
    // With 7 and 13 leading digits the data themselves are rounded to binary: about 10 and 4 digits of F are the ceiling.
    let certified_groups = |name: &str| read_groups(&format!("published/nist-strd-1998/{name}.csv"), 0, 1);
    for (name, digits) in [
        ("SiRstv", 12.5),
        ("AtmWtAg", 9.5),
        ("SmLs01", 14.0),
        ("SmLs02", 13.5),
        ("SmLs03", 13.0),
        ("SmLs04", 9.5),
        ("SmLs05", 9.5),
        ("SmLs06", 9.5),
        ("SmLs07", 2.5),
        ("SmLs08", 2.0),
        ("SmLs09", 2.0),
    ] {
        let certified = json(&format!("published/nist-strd-1998/{name}.json"));
        let groups = if ["SmLs03", "SmLs06", "SmLs09"].contains(&name) {
            let offset = match name {
                "SmLs03" => 0.0,
                "SmLs06" => 999_999.0,
                _ => 999_999_999_999.0,
            };
            large_set(offset)
        } else {
            certified_groups(name)
        };
        let found = OneWay::of(&groups).unwrap();
        let test = found.test.unwrap();
        let pairs = [
            (test.f, "between/F"),
            (found.ss_between, "between/ss"),
            (found.ss_within, "within/ss"),
            (found.r_squared().unwrap(), "r_squared"),
            (found.within_variance().unwrap().sqrt(), "residual_sd"),
        ];
        let worst = pairs.iter().map(|(v, key)| matching_digits(*v, number(&certified, &format!("/certified/{key}")))).fold(17.0, f64::min);
        println!("{name:<8} {worst:.2}");
        assert_eq!((test.dof1, test.dof2), (number(&certified, "/certified/between/df"), number(&certified, "/certified/within/df")));
        assert!(worst >= digits, "{name}: {worst:.2} digits");
    }
}

/// SmLs03, 06 and 09: NIST's rule for the sets of 2001 readings a group, taken from SmLs01, 04 and 07 whose rule is the same.
fn large_set(offset: f64) -> Vec<Vec<f64>> {
    let small = read_groups("published/nist-strd-1998/SmLs01.csv", 0, 1);
    let first: Vec<f64> = small.iter().map(|g| g[0]).collect();
    // The rule gives back SmLs01 exactly.
    let rounded = |v: f64| (v * 10.0).round() / 10.0;
    let again: Vec<Vec<f64>> = small_least_squares(0.0, 21, &first).into_iter().map(|g| g.into_iter().map(rounded).collect()).collect();
    assert_eq!(again, small);
    small_least_squares(0.0, 2001, &first)
        .into_iter()
        .map(|g| g.into_iter().map(|v| format!("{}", rounded(v) + offset).parse().unwrap()).collect())
        .collect()
}

#[test]
fn nested_pins_of_the_e_handbook() {
    // e-Handbook 3.2.3.3: sums of squares 0.000303, 0.0000186, 0.000346 (from memory; recomputed with all digits), F 20.38.
    let table = text("published/e-handbook/machined_pins.csv");
    let mut readings = vec![vec![Vec::new(); 2]; 5];
    for line in table.lines().skip(1).filter(|l| !l.is_empty()) {
        let cells: Vec<&str> = line.split(',').collect();
        let machine: usize = cells[0].parse().unwrap();
        readings[machine - 1][usize::from(cells[1] != "A")].push(cells[2].parse::<f64>().unwrap());
    }
    let found = Nested::of(&readings).unwrap();
    for (value, expected) in found.sums_of_squares.iter().zip([3.0332e-4, 1.86e-5, 3.46e-4]) {
        assert_near("sum of squares", *value, expected, Tolerance::Relative(1e-11));
    }
    assert_eq!(found.dofs, [4.0, 5.0, 40.0]);
    assert_near("F of machines", found.groups_test.unwrap().f, 20.384_408_602_150_533, Tolerance::Relative(1e-11));
    assert_near("F of operators", found.subgroups_test.unwrap().f, 0.430_057_803_468_209, Tolerance::Relative(1e-11));
    for (value, expected) in found.variances.iter().zip([7.211e-6, -9.86e-7, 8.65e-6]) {
        assert_near("variance, negative as found", *value, expected, Tolerance::Relative(1e-10));
    }
    // e-Handbook 3.2.3.1: the A readings alone, one-way. 5.206 is exact; the page's 4.86 comes from rounded mean squares.
    let one_way = OneWay::of(&readings.iter().map(|m| m[0].clone()).collect::<Vec<_>>()).unwrap();
    assert_near("one-way F", one_way.test.unwrap().f, 5.206_060_606, Tolerance::Relative(1e-9));
    assert_near("its tail", one_way.test.unwrap().p, 0.004_858_655_290_994_693_5, Tolerance::Relative(1e-9));
    assert!(Nested::of(&[vec![vec![1.0, 2.0]], vec![vec![1.0, 2.0]]]).is_none());
}

#[test]
fn nested_pastes() {
    // Strength of a paste, 10 batches of 3 casks, 2 samples each (Davies & Goldsmith 1972, table 6.5): balanced, so that the analysis of variance gives what restricted
    // likelihood gives. Closed forms in 40 digits; R 4.2.2, lme4 1.1-31 has 2.904078, 1.287365, 0.823408 for 1 + (1|batch/cask), good to its optimiser.
    let mut readings = vec![vec![Vec::new(); 3]; 10];
    for line in text("published/davies-goldsmith-1972/pastes.csv").lines().skip(1).filter(|l| !l.is_empty()) {
        let cells: Vec<&str> = line.split(',').collect();
        let place = |cell: &str, first: char| usize::try_from(u32::from(cell.chars().next().unwrap()) - u32::from(first)).unwrap();
        readings[place(cells[1], 'A')][place(cells[2], 'a')].push(cells[0].parse::<f64>().unwrap());
    }
    let found = Nested::of(&readings).unwrap();
    assert_eq!(found.dofs, [9.0, 20.0, 30.0]);
    let exact = [1.287_364_999_514_630_3, 2.904_077_593_086_429_3, 0.823_407_554_009_556_2];
    let fitted_elsewhere = [1.287_365_167_092, 2.904_077_584_172, 0.823_407_544_769];
    for ((variance, exact), other) in found.variances.iter().zip(exact).zip(fitted_elsewhere) {
        assert_near("standard deviation", variance.sqrt(), exact, Tolerance::Relative(1e-11));
        assert_near("standard deviation", variance.sqrt(), other, Tolerance::Relative(1e-6));
        assert!(!Tolerance::Relative(1e-11).accepts(variance.sqrt() * (1.0 + 1e-10), exact));
    }
}

#[test]
fn three_levels_of_the_e_handbook() {
    // e-Handbook 7.4.3.3 (values from memory, arithmetic closes): 27.897, 17.452, F 9.59.
    let found = OneWay::of(&read_groups("published/e-handbook/three_levels.csv", 0, 1)).unwrap();
    assert_near("between", found.ss_between, 27.897, Tolerance::Absolute(5e-4));
    assert_near("within", found.ss_within, 17.452, Tolerance::Absolute(5e-4));
    assert_near("F", found.test.unwrap().f, 9.59, Tolerance::Absolute(5e-3));
}

#[test]
fn closed_form_reml_of_dyestuff_rail_and_the_boundary() {
    // Davies (1957) table 6.3 dyestuff; Box & Tiao (1973) constructed dyestuff2; Devore (2000) rails. Values: 40-digit closed forms; criteria by R 4.2.2,
    // lme4 1.1-31 REMLcrit, good to its optimiser.
    let cases = [
        ("davies-1957/dyestuff.csv", [1527.5, 19.383_412_152_319, 42.000_595_233_877_3, 49.510_099_979_701_1], 319.654_276_842, false),
        ("davies-1957/dyestuff2.csv", [5.6656, 0.678_388, 0.0, 3.715_684_27], 161.828_277_812, true),
        ("pinheiro-bates-2000/rail.csv", [66.5, 10.171_037_311_897, 24.805_465_347_602_6, 4.020_779_360_604_94], 122.177_000_809, false),
    ];
    for (file, [mean, error, between, within], criterion, boundary) in cases {
        let found = OneWay::of(&read_groups(&format!("published/{file}"), 0, 1)).unwrap().balanced_reml().unwrap();
        let tolerance = if boundary { Tolerance::Relative(3e-7) } else { Tolerance::Relative(1e-12) };
        assert_near("mean", found.mean, mean, Tolerance::Relative(1e-13));
        assert_near("within", found.within_sd, within, tolerance);
        assert_near("between", found.between_sd, between, if boundary { Tolerance::Absolute(0.0) } else { tolerance });
        assert_near("standard error", found.standard_error, error, if boundary { Tolerance::Relative(1e-5) } else { tolerance });
        assert_near("criterion", found.criterion, criterion, Tolerance::Absolute(2e-8));
        assert_eq!(found.at_boundary, boundary);
    }
    let moment = OneWay::of(&read_groups("published/davies-1957/dyestuff2.csv", 0, 1)).unwrap().between_variance().unwrap();
    assert_near("the moment estimate is negative and said so", moment, -1.321_912_768, Tolerance::Relative(1e-9));
    assert!(OneWay::of(&[vec![1.0, 2.0], vec![3.0]]).unwrap().balanced_reml().is_none());
}

#[test]
fn between_group_variance_of_unbalanced_groups() {
    let found = OneWay::of(&[vec![1.0, 2.0, 3.0], vec![4.0, 6.0]]).unwrap();
    // By hand: n₀ = (5 − 13/5)/1 = 2.4; MS_w = 4/3; means 2 and 5, grand mean 3.2: SS_b = 3·1.44 + 2·3.24 = 10.8.
    assert_near("n₀", found.effective_size.unwrap(), 2.4, Tolerance::Relative(1e-14));
    assert_near("SS", found.ss_between, 10.8, Tolerance::Relative(1e-14));
    assert_near("variance", found.between_variance().unwrap(), (10.8 - 4.0 / 3.0) / 2.4, Tolerance::Relative(1e-14));
}

#[test]
fn gum_h5_from_daily_means_and_standard_deviations() {
    // JCGM 100:2008 H.5, table H.9 and equations H.25 to H.32; printed: mean 10.000 097 V, s(mean) 18 µV, s_a 128 µV, s_b 85 µV, s_B 43 µV. GUM prints F = 2.25
    // from rounded values; the table gives 2.2615.
    let table = Table::read("published/jcgm-100-2008/h5_zener.csv");
    let (means, sds) = (table.column("mean_V"), table.column("s_microV"));
    let (repeats, days) = (5.0_f64, 10.0_f64);
    let summary = Summary::of(means).unwrap();
    let of_means = summary.sd.unwrap();
    assert_near("mean", summary.mean, 10.000_097_1, Tolerance::Absolute(1e-12));
    assert_near("s of the mean", of_means / days.sqrt() * 1e6, 18.053_285, Tolerance::Relative(1e-6));
    let a = repeats * of_means * of_means;
    let b = sds.iter().map(|s| s * s * 1e-12).sum::<f64>() / days;
    let test = FTest::of(a * 9.0, 9.0, b * 40.0, 40.0).unwrap();
    assert_near("s_a", a.sqrt() * 1e6, 127.656_005, Tolerance::Relative(1e-8));
    assert_near("s_b", b.sqrt() * 1e6, 84.886_984, Tolerance::Relative(1e-8));
    assert_near("F", test.f, 2.261_519_270, R_LINEAR);
    assert_near("p", test.p, 0.037_396_825_143, R_LINEAR);
    assert_near("F 0.95", f_quantile(0.95, 9.0, 40.0).unwrap(), 2.124_029_264_016_695_3, R_LINEAR);
    assert_near("F 0.975", f_quantile(0.975, 9.0, 40.0).unwrap(), 2.451_939_217_029_926_3, R_LINEAR);
    assert_near("s_B", ((a - b) / repeats).sqrt() * 1e6, 42.638_61, Tolerance::Relative(1e-6));
    assert!(f_sf(2.25, 9.0, 40.0).unwrap() > test.p);
}
