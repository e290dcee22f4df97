//! The moisture content of wood against the Wood Handbook's equation and table.

use evenhand_core::analysis::climate::Air;

/// P: Wood Handbook, FPL-GTR-282, 2021, chapter 4, table 4-2
/// (<https://research.fs.usda.gov/download/treesearch/62243.pdf>): temperature in °C, relative humidity in
/// percent, moisture content in percent. These cells were read in two copies of the page; the
/// rest of the table is in `tests/from_memory`.
#[rustfmt::skip]
const CELLS: [(f64, f64, f64); 23] = [
    (-1.1, 75.0, 14.9), (-1.1, 95.0, 24.3), (-1.1, 30.0, 6.3), (10.0, 50.0, 9.5),
    (21.1, 5.0, 1.3), (21.1, 20.0, 4.5), (21.1, 30.0, 6.2), (21.1, 40.0, 7.7),
    (21.1, 50.0, 9.2), (21.1, 60.0, 11.0), (21.1, 65.0, 12.0), (21.1, 70.0, 13.1),
    (21.1, 75.0, 14.4), (21.1, 80.0, 16.0), (21.1, 85.0, 17.9), (21.1, 90.0, 20.5),
    (21.1, 95.0, 23.9), (26.7, 65.0, 11.7), (37.8, 50.0, 8.7), (37.8, 80.0, 15.1),
    (37.8, 90.0, 19.5), (60.0, 50.0, 7.7), (82.2, 65.0, 8.6),
];

fn at(celsius: f64, humidity: f64) -> f64 {
    Air { celsius, humidity }.moisture_content().unwrap()
}

#[test]
fn the_equation_gives_the_cells_to_their_rounding() {
    for (celsius, humidity, cell) in CELLS {
        let off = (at(celsius, humidity) - cell).abs();
        // The book prints 17.9 at 21.1 °C and 85 %, where its own equation gives 17.95.
        assert!(off < 0.0525, "{celsius} °C, {humidity} %: {off}");
    }
}

/// P: "Ratios: Relative humidity to moisture content", 31 October 2000,
/// <https://www.woodweb.com/knowledge_base/Ratios_Relative_humidity_to_moisture_content.html>: whole per cents.
#[test]
fn the_rule_of_thumb_of_woodworkers_comes_out() {
    for (humidity, moisture) in [(30.0, 6.0), (50.0, 9.0), (65.0, 12.0), (80.0, 16.0)] {
        let found = at(21.1, humidity);
        assert!((found - moisture).abs() <= 0.5, "{humidity} %: {found}");
    }
}

/// P: the same handbook, page 4-4: the constants of equation 4-5 for degrees Fahrenheit.
#[test]
fn the_fahrenheit_form_of_the_equation_agrees() {
    for celsius in 0..=50 {
        for percent in 1..=19 {
            let (t, h) = (f64::from(celsius) * 1.8 + 32.0, f64::from(percent) * 0.05);
            let w = 330.0 + 0.452 * t + 0.00415 * t * t;
            let k = (0.791 + 0.000_463 * t - 0.000_000_844 * t * t) * h;
            let k1 = 6.34 + 0.000_775 * t - 0.000_093_5 * t * t;
            let k2 = 1.09 + 0.0284 * t - 0.000_090_4 * t * t;
            let bound = (k1 * k + 2.0 * k1 * k2 * k * k) / (1.0 + k1 * k + k1 * k2 * k * k);
            let other = 1800.0 / w * (k / (1.0 - k) + bound);
            let ours = at(f64::from(celsius), f64::from(5 * percent));
            assert!(
                (ours - other).abs() < 0.04,
                "{celsius} °C, {percent}: {ours} {other}"
            );
        }
    }
}
