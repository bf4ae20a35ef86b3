//! `preview`: how a user has the page, and what its scopes measure by, against the other commands.

use rushlight_tests::scene::{json, numbers, output, saltmarsh};
use rushlight_tests::server::Server;
use serde_json::{Value, json};

fn floats(bytes: &[u8]) -> Vec<f32> {
    bytes.chunks_exact(4).map(|b| f32::from_le_bytes(b.try_into().expect("four bytes"))).collect()
}

#[test]
fn how_the_page_is_outlives_the_server() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let first = json!({ "surround": "dim", "page": "dark", "side": "open", "bench": "low", "letters": true });
    assert_eq!(server.get("state").good()["page"], first);
    let chosen = json!({ "surround": "black", "page": "light", "side": "folded", "bench": "tall", "letters": false });
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
    assert!(odd("surround", json!("../../etc")).contains("surround") || odd("surround", json!("x")).contains("dim"));
    assert!(odd("more", json!(1)).contains("more"));
    assert!(odd("letters", json!("yes")).contains("bool"));
    server.post("page", &json!({})).refused(400);
    let long = json!({ "surround": "x".repeat(70_000) });
    assert_eq!(server.post("page", &long).status, 413);
    assert_eq!(server.get("state").good()["page"], chosen);
}

/// Each code of the camera against `probe`'s scene light, each of the display against its nits.
#[test]
fn scales_are_those_of_probe() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let answer = server.get("scales?camera=a&display=onset");
    assert_eq!(answer.status, 200);
    let says: Value = serde_json::from_str(answer.header("x-scales")).expect("JSON");
    let (codes, shown) = (numbers(&says["camera_codes"])[0] as usize, numbers(&says["display_codes"])[0] as usize);
    let all = floats(&answer.body);
    assert_eq!(all.len(), codes + 2 * shown);
    let stops = &all[..codes];
    assert!(stops.windows(2).all(|two| two[0] <= two[1]), "stops rise with the code");
    for code in [20_000_usize, 30_000, 40_000, 60_000] {
        let signal = code as f64 / 65_535.0;
        let words =
            format!("probe show.toml {signal} {signal} {signal} --json --look night --camera a --display onset");
        let probe = json(&output(dir.path(), &words));
        let linear = numbers(&probe["colours"][0]["stages"][0]["rgb"])[0];
        let wanted = (linear / 0.18).log2();
        assert!((f64::from(stops[code]) - wanted).abs() < 1e-5, "{code}: {} stops, not {wanted}", stops[code]);
    }
    let nits = &all[codes + shown..];
    assert!((nits[shown - 1] - 100.0).abs() < 1e-4, "{}", nits[shown - 1]);
    for (at, words) in [("x", "a"), ("a", "x")] {
        let refused = server.get(&format!("scales?camera={at}&display={words}"));
        assert_eq!(refused.status, 404);
    }
    server.get("scales?camera=a").refused(400);
}
