//! `preview`: how a user has the page, and what its scopes measure by, against the other commands.

use rushlight::math::{cbrt, log2, pow};
use rushlight_tests::scene::{SHOW, json, numbers, put, saltmarsh};
use rushlight_tests::server::Server;
use serde_json::{Value, json};

#[test]
fn how_the_page_is_outlives_the_server() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let scopes = json!({
        "stops": true, "display": true, "chromaticity": false, "histogram": false, "pins": false,
        "channels": "over", "unit": "percent",
    });
    let first = json!({ "surround": "dim", "page": "dark", "side": "open", "controls": "low", "letters": true, "scopes": scopes });
    assert_eq!(server.get("state").good()["page"], first);
    let scopes = json!({
        "stops": false, "display": true, "chromaticity": true, "histogram": true, "pins": true,
        "channels": "side", "unit": "nits",
    });
    let chosen = json!({
        "surround": "black", "page": "light", "side": "folded", "controls": "tall", "letters": false, "scopes": scopes,
    });
    assert_eq!(server.post("page", &chosen).good(), chosen);
    // What has been read since is stored again.
    assert_eq!(server.get("state").good()["page"], chosen);
    let mut chosen = chosen;
    chosen["surround"] = json!("grey");
    assert_eq!(server.post("page", &chosen).good(), chosen);
    drop(server);
    let server = Server::start(dir.path(), "show.toml");
    assert_eq!(server.get("state").good()["page"], chosen);
    // What is no choice is refused, and changes nothing.
    let odd = |key: &str, value: Value| {
        let mut odd = chosen.clone();
        odd[key] = value;
        server.post("page", &odd).refused(400)
    };
    assert!(odd("surround", json!("../../etc")).contains("dim"));
    assert!(odd("more", json!(1)).contains("more"));
    assert!(odd("scopes", json!({ "channels": "under" })).contains("over"));
    assert!(odd("letters", json!("yes")).contains("bool"));
    server.post("page", &json!({})).refused(400);
    let long = json!({ "surround": "x".repeat(70_000) });
    assert_eq!(server.post("page", &long).status, 413);
    assert_eq!(server.get("state").good()["page"], chosen);
}

fn floats(bytes: &[u8]) -> Vec<f64> {
    bytes.chunks_exact(4).map(|b| f64::from(f32::from_le_bytes(b.try_into().expect("four bytes")))).collect()
}

/// Each code of the camera against the scene light that `probe` gives, each grey of the display against its nits.
#[test]
fn scales_are_those_of_probe() {
    let dir = saltmarsh();
    // By S-Log3, 0.8663 of the signal is 6 stops over mid-grey, and 0.9432 is 7 (colour-science 0.4.7).
    let ratings = "[[cameras.a.rating]]\nei = 800\nclip = 0.8663\nfloor_stops = -7.5\n\
                   [[cameras.a.rating]]\nei = 1600\nclip = 0.9432\nfloor_stops = -6.5\n\n[cameras.b]";
    put(dir.path(), "show.toml", &SHOW.replace("[cameras.b]", ratings));
    let server = Server::start(dir.path(), "show.toml");
    let scales = |query: &str| {
        let answer = server.get(&format!("scales?{query}"));
        assert_eq!(answer.status, 200, "{query}: {}", String::from_utf8_lossy(&answer.body));
        let says: Value = serde_json::from_str(answer.header("x-scales")).expect("JSON");
        (says, floats(&answer.body))
    };
    let (says, all) = scales("camera=a&display=onset&ei=1600");
    let count = |key: &str| says[key].as_u64().expect("a count") as usize;
    let (codes, shown) = (count("camera_codes"), count("display_codes"));
    assert_eq!(all.len(), 2 * codes + 2 * shown);
    let (stops, light) = (&all[..codes], &all[codes..2 * codes]);
    assert!(stops.windows(2).all(|two| two[0] <= two[1]), "stops rise with the code");
    for code in [20_000_usize, 30_000, 40_000, 60_000] {
        let signal = code as f64 / 65_535.0;
        let words =
            format!("probe show.toml {signal} {signal} {signal} --json --look night --camera a --display onset");
        let probe = json(dir.path(), &words);
        let linear = numbers(&probe["colours"][0]["stages"][0]["rgb"])[0];
        let wanted = log2(linear / 0.18);
        assert!((stops[code] - wanted).abs() < 1e-5, "{code}: {} stops, not {wanted}", stops[code]);
        assert!((light[code] / linear - 1.0).abs() < 1e-6, "{code}: {}, not {linear}", light[code]);
    }
    let nits = &all[2 * codes + shown..];
    assert!((nits[shown - 1] - 100.0).abs() < 1e-4, "{}", nits[shown - 1]);
    // BT.1886 of a black at zero: a signal of one half is 0.5 to the power of 2.4 of white.
    assert!((nits[511] - 100.0 * pow(511.0 / 1023.0, 2.4)).abs() < 1e-4, "{}", nits[511]);
    let end = |says: &Value, name: &str| says[name]["stop"].as_f64().expect("a number");
    assert!((end(&says, "clip") - 7.0).abs() < 0.01 && (end(&says, "floor") + 6.5).abs() < 1e-9, "{says}");
    assert_eq!((&says["ei"], &says["legal"], &says["black_code"]), (&json!(1600.0), &json!(false), &json!(0.0)));
    // Without an EI, the first of the show; without a rating, where the curve ends. The codes of narrow range: ITU-R
    // BT.2100-2, table 9.
    let (says, _) = scales("camera=a&display=grade");
    assert!((end(&says, "clip") - 6.0).abs() < 0.01 && says["ei"] == 800.0, "{says}");
    assert_eq!((&says["legal"], &says["hdr"]), (&json!(true), &json!(true)));
    assert_eq!((&says["black_code"], &says["white_code"]), (&json!(64.0), &json!(940.0)));
    let (says, _) = scales("camera=b&display=onset");
    assert!((end(&says, "clip") - 6.0).abs() < 0.01 && says["ei"].is_null(), "{says}");
    assert_eq!(says["clip"]["from"], "curve");
    for (query, status) in [
        ("camera=x&display=onset", 404),
        ("camera=a&display=x", 404),
        ("camera=a&display=onset&ei=801", 404),
        ("camera=a", 400),
    ] {
        server.get(&format!("scales?{query}")).refused(status);
    }
}

/// Places of a picture against `probe`: by signal, and a rectangle by its mean light.
#[test]
fn places_are_read_as_probe_reads_them() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let ask = |places: Value| {
        server.post("places", &json!({ "look": "night", "camera": "a", "display": "onset", "places": places }))
    };
    let signal = [0.5_f64, 0.42, 0.35];
    let words = format!(
        "probe show.toml {} {} {} --json --look night --camera a --display onset",
        signal[0], signal[1], signal[2]
    );
    let probe = json(dir.path(), &words);
    let colour = &probe["colours"][0];
    let linear = numbers(&colour["stages"][0]["rgb"]);
    let answer = ask(json!([{ "signal": signal }, { "light": linear }])).good();
    for reading in answer["readings"].as_array().expect("a list") {
        let close = |key: &str, wanted: Vec<f64>, by: f64| {
            let got = numbers(&reading[key]);
            let far = got.iter().zip(&wanted).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            assert!(far <= by, "{key}: {got:?}, not {wanted:?}");
        };
        close("channel_stops", linear.iter().map(|v| log2(v / 0.18)).collect(), 1e-6);
        close("camera_code_10", signal.iter().map(|v| (v * 1023.0).round()).collect(), 0.0);
        let out = numbers(&colour["out"]);
        close("display_code_10", out.iter().map(|v| (v * 1023.0).round()).collect(), 0.0);
        // BT.1886 and BT.709 light; CIE 15:2004, 8.2.1, under D65 (x 0.3127, y 0.3290). The matrix: ITU-R BT.709-6, from memory.
        let light: Vec<f64> = out.iter().map(|v| pow(*v, 2.4)).collect();
        let rows = [[0.412391, 0.357584, 0.180481], [0.212639, 0.715169, 0.072192], [0.019331, 0.119195, 0.950532]];
        let ratio = |i: usize, white: f64| rows[i].iter().zip(&light).map(|(m, v)| m * v).sum::<f64>() / white;
        let [x, y, z] = [ratio(0, 0.950456), ratio(1, 1.0), ratio(2, 1.089058)].map(cbrt);
        assert!(pow(y, 3.0) > 0.008856, "the cube root holds");
        close("lab", vec![116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], 0.01);
        let nits = reading["nits"].as_f64().expect("a number");
        assert!((nits - 100.0 * pow(y, 3.0)).abs() < 0.01, "{nits}");
    }
    let black = ask(json!([{ "light": [0.0, -0.01, 0.18] }])).good();
    assert!(black["readings"][0]["channel_stops"][0].is_null() && black["readings"][0]["channel_stops"][1].is_null());
    assert!(ask(vec![json!({ "signal": [0.5, 0.5, 0.5] }); 9].into()).refused(400).contains("9 are more"));
    assert!(ask(json!([{ "colour": [0.5, 0.5, 0.5] }])).refused(400).contains("colour"));
    ask(json!([{ "light": [1e308, 1e308, 1e308] }])).refused(400);
}
