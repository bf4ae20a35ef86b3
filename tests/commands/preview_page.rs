//! `preview`: how a user has the page.

use rushlight_tests::scene::saltmarsh;
use rushlight_tests::server::Server;
use serde_json::{Value, json};

#[test]
fn how_the_page_is_outlives_the_server() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let first = json!({ "surround": "dim", "page": "dark", "side": "open", "controls": "low", "letters": true });
    assert_eq!(server.get("state").good()["page"], first);
    let chosen =
        json!({ "surround": "black", "page": "light", "side": "folded", "controls": "tall", "letters": false });
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
    assert!(odd("letters", json!("yes")).contains("bool"));
    server.post("page", &json!({})).refused(400);
    let long = json!({ "surround": "x".repeat(70_000) });
    assert_eq!(server.post("page", &long).status, 413);
    assert_eq!(server.get("state").good()["page"], chosen);
}
