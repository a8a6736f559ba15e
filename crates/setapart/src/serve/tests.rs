//! The app without a socket: what comes in through the guard, what rooms answer.

use super::bench::Bench;
use super::guard::Names;
use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use http_body_util::BodyExt;
use piece::{Part, PartId, PartKind, Piece};
use serde_json::{Value, json};
use shape::{Outline, Point};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use tower::ServiceExt;
use workshop::Workshop;

/// An app on a workshop of its own, which goes when it does.
pub(super) struct Shop {
    app: Router,
    folder: PathBuf,
}

impl Drop for Shop {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

const HOST: &str = "127.0.0.1:7317";

impl Shop {
    pub(super) fn new() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let n = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("setapart-app-{}-{n}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        let _ = std::fs::remove_dir_all(&folder);
        let workshop = Workshop::open_or_create(&folder).unwrap();
        let app = super::app(Bench::new(workshop), Names::of_this_machine(7317));
        Self { app, folder }
    }

    async fn send(&self, request: Request<Body>) -> (StatusCode, header::HeaderMap, Vec<u8>) {
        let response = self.app.clone().oneshot(request).await.unwrap();
        let (status, headers) = (response.status(), response.headers().clone());
        let body = response.into_body().collect().await.unwrap().to_bytes();
        (status, headers, body.to_vec())
    }

    pub(super) async fn get(&self, path: &str) -> (StatusCode, header::HeaderMap, Vec<u8>) {
        self.send(request(Method::GET, path).body(Body::empty()).unwrap())
            .await
    }

    pub(super) async fn post(&self, path: &str, body: Value) -> (StatusCode, Value) {
        let request = request(Method::POST, path)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .header(header::CONTENT_TYPE, "application/json")
            .body(Body::from(body.to_string()))
            .unwrap();
        let (status, _, bytes) = self.send(request).await;
        (status, serde_json::from_slice(&bytes).unwrap_or_default())
    }

    /// Sends a file as the body.
    pub(super) async fn upload(&self, path: &str, bytes: Vec<u8>) -> (StatusCode, Value) {
        let request = request(Method::POST, path)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .body(Body::from(bytes))
            .unwrap();
        let (status, _, answer) = self.send(request).await;
        (status, serde_json::from_slice(&answer).unwrap_or_default())
    }

    /// How a job ended: its last report.
    pub(super) async fn ended(&self, job: &Value) -> Value {
        let (_, _, bytes) = self.get(&format!("/jobs/{job}")).await;
        let heard = String::from_utf8(bytes).unwrap();
        serde_json::from_str(heard.rsplit("data: ").next().unwrap().trim()).unwrap()
    }

    /// A piece of three squares of 20 mm, 30 mm apart, stored behind the app's back.
    pub(super) fn squares(&self) -> i64 {
        let mut piece = Piece::new("Squares", crate::commands::demo::usual_frame());
        for k in 0..3 {
            let id = PartId::try_new(format!("p{}", k + 1)).unwrap();
            let corner = Point::new(20.0, 20.0);
            let outline = Outline::rectangle(Point::default(), corner).unwrap();
            piece.parts.push(square(id.clone(), outline));
            piece.placements.push(piece::Placement {
                part: id,
                x: 40.0 + 50.0 * f64::from(k),
                y: 100.0,
                turn_deg: 0.0,
                pinned: false,
            });
        }
        let workshop = Workshop::open(&self.folder).unwrap();
        workshop.new_piece(&piece).unwrap().id.number()
    }
}

fn square(id: PartId, outline: Outline) -> Part {
    let text = json!({
        "id": id, "name": format!("Square {id}"), "kind": PartKind::Other, "outline": outline,
    });
    serde_json::from_value(text).unwrap()
}

fn request(method: Method, path: &str) -> axum::http::request::Builder {
    Request::builder()
        .method(method)
        .uri(path)
        .header(header::HOST, HOST)
}

#[tokio::test]
async fn a_request_for_another_name_is_refused() {
    let shop = Shop::new();
    for host in [
        "evil.example",
        "127.0.0.1",
        "127.0.0.1:80",
        "localhost.evil.example:7317",
        "192.168.1.5:7317",
        "",
    ] {
        let request = Request::builder()
            .uri("/")
            .header(header::HOST, host)
            .body(Body::empty())
            .unwrap();
        assert_eq!(shop.send(request).await.0, StatusCode::FORBIDDEN, "{host}");
    }
    let nameless = Request::builder().uri("/").body(Body::empty()).unwrap();
    assert_eq!(shop.send(nameless).await.0, StatusCode::FORBIDDEN);
    let doubled = request(Method::GET, "/")
        .header(header::HOST, "evil.example")
        .body(Body::empty())
        .unwrap();
    assert_eq!(shop.send(doubled).await.0, StatusCode::FORBIDDEN);
    for host in ["localhost:7317", "LOCALHOST:7317", "[::1]:7317", HOST] {
        let request = Request::builder()
            .uri("/")
            .header(header::HOST, host)
            .body(Body::empty())
            .unwrap();
        assert_eq!(shop.send(request).await.0, StatusCode::OK, "{host}");
    }
}

#[tokio::test]
async fn another_sites_page_may_neither_send_nor_fetch() {
    let shop = Shop::new();
    let send = |headers: &[(&str, &str)], method: Method| {
        let mut request =
            request(method, "/pieces").header(header::CONTENT_TYPE, "application/json");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        request.body(Body::from(r#"{"name":"x"}"#)).unwrap()
    };
    for headers in [
        &[("origin", "http://evil.example")][..],
        &[("origin", "null")],
        &[("origin", "https://127.0.0.1:7317")],
        &[("origin", "http://127.0.0.1:7318")],
        &[("origin", "http://localhost:7317")],
        &[("sec-fetch-site", "cross-site")],
        &[("sec-fetch-site", "same-site")],
        &[
            ("sec-fetch-site", "cross-site"),
            ("origin", "http://127.0.0.1:7317"),
        ],
        &[],
    ] {
        let answer = shop.send(send(headers, Method::POST)).await;
        assert_eq!(answer.0, StatusCode::FORBIDDEN, "{headers:?}");
    }
    let own = send(&[("origin", "http://127.0.0.1:7317")], Method::POST);
    assert_eq!(shop.send(own).await.0, StatusCode::OK);
    let read = |mode: &str| {
        request(Method::GET, "/")
            .header("sec-fetch-site", "cross-site")
            .header("sec-fetch-mode", mode)
            .body(Body::empty())
            .unwrap()
    };
    assert_eq!(shop.send(read("no-cors")).await.0, StatusCode::FORBIDDEN);
    assert_eq!(shop.send(read("navigate")).await.0, StatusCode::OK);
}

#[tokio::test]
async fn every_answer_forbids_inline_scripts_and_foreign_content() {
    let shop = Shop::new();
    for path in ["/", "/nowhere", "/assets/0/tokens.css", "/piece/99/board"] {
        let (_, headers, _) = shop.get(path).await;
        let policy = headers["content-security-policy"].to_str().unwrap();
        assert!(policy.starts_with("default-src 'none'"), "{path}");
        assert!(!policy.contains("unsafe"), "{path}");
        assert_eq!(headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(
            headers["cross-origin-resource-policy"], "same-origin",
            "{path}"
        );
        assert!(headers.contains_key(header::CACHE_CONTROL), "{path}");
    }
}

#[tokio::test]
async fn no_page_has_an_inline_script_or_style_or_names_another_host() {
    let shop = Shop::new();
    let id = shop.squares();
    let mut paths = vec!["/".to_owned(), "/nowhere".to_owned()];
    paths.extend(super::rooms::Room::ALL.map(|r| format!("/piece/{id}/{}", r.slug())));
    for path in paths {
        let (_, _, bytes) = shop.get(&path).await;
        let text = String::from_utf8(bytes).unwrap();
        for script in text.split("<script").skip(1) {
            let (tag, rest) = script.split_once('>').unwrap();
            assert!(tag.contains(" src=\"/assets/"), "{path}: {tag}");
            assert!(rest.starts_with("</script>"), "{path}: {tag}");
        }
        for word in [
            " style=",
            "<style",
            "javascript:",
            " onclick=",
            "https://",
            "http://",
        ] {
            let svg = text.replace("http://www.w3.org/2000/svg", "");
            assert!(!svg.contains(word), "{path}: {word}");
        }
    }
}

#[tokio::test]
async fn what_is_too_large_is_refused_before_it_is_read() {
    let shop = Shop::new();
    let large = request(Method::POST, "/pieces")
        .header(header::ORIGIN, format!("http://{HOST}"))
        .header(header::CONTENT_TYPE, "application/json")
        .header(header::CONTENT_LENGTH, 2_u64 << 30)
        .body(Body::empty())
        .unwrap();
    assert_eq!(shop.send(large).await.0, StatusCode::PAYLOAD_TOO_LARGE);
    let endless = request(Method::POST, "/pieces")
        .header(header::ORIGIN, format!("http://{HOST}"))
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from(vec![b' '; 3 << 20]))
        .unwrap();
    assert_eq!(shop.send(endless).await.0, StatusCode::PAYLOAD_TOO_LARGE);
    // A bundle cannot be made smaller: the way for larger ones is named.
    let bundle = request(Method::POST, "/pieces/import")
        .header(header::ORIGIN, format!("http://{HOST}"))
        .header(header::CONTENT_LENGTH, 200_u64 << 20)
        .body(Body::empty())
        .unwrap();
    let (status, _, said) = shop.send(bundle).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    let said = String::from_utf8(said).unwrap();
    assert!(said.contains("setapart workshop import FILE"), "{said}");
}

#[tokio::test]
async fn bad_words_are_told_by_their_field() {
    let shop = Shop::new();
    let (status, said) = shop.post("/pieces", json!({ "name": "  " })).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(said["field"], "name");
    let (status, said) = shop.post("/pieces", json!({ "title": "x" })).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        said["problem"].as_str().unwrap().contains("title"),
        "{said}"
    );
}

#[tokio::test]
async fn an_edit_is_saved_undone_and_done_again_also_after_a_restart() {
    let mut shop = Shop::new();
    let id = shop.squares();
    let (_, _, bytes) = shop.get(&format!("/piece/{id}/board.json")).await;
    let scene: Value = serde_json::from_slice(&bytes).unwrap();
    let edit = json!({
        "base": scene["revision"],
        "edits": [{ "do": "place", "part": "p2", "x": 91.5, "y": 120.0, "turn_deg": 90.0 }],
    });
    let (status, after) = shop.post(&format!("/piece/{id}/edits"), edit).await;
    assert_eq!(status, StatusCode::OK, "{after}");
    assert_eq!(after["placements"][1]["x"], 91.5);
    assert_eq!(after["undo"], "Turn Square p2");
    assert!(after["docket"].as_str().unwrap().contains("Docket"));

    // Another process on the same folder.
    let workshop = Workshop::open(&shop.folder).unwrap();
    shop.app = super::app(Bench::new(workshop), Names::of_this_machine(7317));
    let seen = json!({ "revision": after["revision"] });
    let (status, undone) = shop.post(&format!("/piece/{id}/undo"), seen).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(undone["placements"][1]["x"], 90.0);
    assert_eq!(undone["redo"], "Turn Square p2");
    let seen = json!({ "revision": undone["revision"] });
    let (_, redone) = shop.post(&format!("/piece/{id}/redo"), seen).await;
    assert_eq!(redone["placements"][1]["x"], 91.5);
}

#[tokio::test]
async fn a_piece_without_parts_has_its_name_on_the_board_and_can_be_given_another() {
    let shop = Shop::new();
    let (_, begun) = shop.post("/pieces", json!({ "name": "Piece" })).await;
    let go = begun["go"].as_str().unwrap();
    let piece = go.rsplit_once('/').unwrap().0;
    let page = String::from_utf8(shop.get(&format!("{piece}/board")).await.2).unwrap();
    // What the page's module looks for before it lets a name be typed.
    for field in [
        "name=\"name\"",
        "id=\"about\"",
        "id=\"saved\"",
        "id=\"gap\"",
        "id=\"style\"",
    ] {
        assert!(page.contains(field), "{field}");
    }
    // Nothing is there that could be arranged.
    assert!(!page.contains("id=\"arrange\"") && !page.contains("id=\"hanging\""));
    let scene: Value =
        serde_json::from_slice(&shop.get(&format!("{piece}/board.json")).await.2).unwrap();
    let edit =
        json!({ "base": scene["revision"], "edits": [{ "do": "name", "name": "Alarm clock" }] });
    let (status, after) = shop.post(&format!("{piece}/edits"), edit).await;
    assert_eq!(
        (status, &after["name"]),
        (StatusCode::OK, &json!("Alarm clock"))
    );
    let shelf = String::from_utf8(shop.get("/").await.2).unwrap();
    assert!(shelf.contains("Alarm clock"));
}

#[tokio::test]
async fn what_is_typed_and_not_entered_comes_back_until_it_is_entered() {
    let shop = Shop::new();
    let id = shop.squares();
    let (draft, board) = (
        format!("/piece/{id}/draft"),
        format!("/piece/{id}/board.json"),
    );
    let typed = json!({ "part": "p2", "text": "Half a sent" });
    assert_eq!(shop.post(&draft, typed).await.0, StatusCode::OK);
    let scene: Value = serde_json::from_slice(&shop.get(&board).await.2).unwrap();
    assert_eq!(scene["drafts"], json!({ "p2": "Half a sent" }));
    // No edit yet, and nothing to undo.
    assert_eq!(scene["undo"], Value::Null);
    let entered = json!({ "part": "p2", "text": null });
    assert_eq!(shop.post(&draft, entered).await.0, StatusCode::OK);
    let scene: Value = serde_json::from_slice(&shop.get(&board).await.2).unwrap();
    assert_eq!(scene["drafts"], json!({}));
    for wrong in [
        json!({ "part": "nobody", "text": "x" }),
        json!({ "part": "p2", "text": "x".repeat(3_000) }),
        json!({ "text": "x" }),
    ] {
        let (status, said) = shop.post(&draft, wrong).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{said}");
    }
}

#[tokio::test]
async fn two_windows_that_move_different_parts_both_count_and_the_same_part_is_asked() {
    let shop = Shop::new();
    let id = shop.squares();
    let (_, _, bytes) = shop.get(&format!("/piece/{id}/board.json")).await;
    let scene: Value = serde_json::from_slice(&bytes).unwrap();
    let base = &scene["revision"];
    let place = |part: &str, x: f64| json!([{ "do": "place", "part": part, "x": x, "y": 100.0, "turn_deg": 0.0 }]);
    let edits = format!("/piece/{id}/edits");
    let (status, _) = shop
        .post(&edits, json!({ "base": base, "edits": place("p1", 30.0) }))
        .await;
    assert_eq!(status, StatusCode::OK);
    let (status, both) = shop
        .post(&edits, json!({ "base": base, "edits": place("p3", 160.0) }))
        .await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(both["placements"][0]["x"], 30.0);
    assert_eq!(both["placements"][2]["x"], 160.0);
    let late = json!({ "base": base, "edits": place("p1", 55.0) });
    let (status, said) = shop.post(&edits, late.clone()).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert_eq!(said["conflict"], true);
    assert_eq!(said["now"]["placements"][0]["x"], 30.0);
    for (prefer, x) in [("theirs", 30.0), ("mine", 55.0)] {
        let mut late = late.clone();
        late["prefer"] = prefer.into();
        let (status, after) = shop.post(&edits, late).await;
        assert_eq!(status, StatusCode::OK, "{after}");
        assert_eq!(after["placements"][0]["x"], x);
        assert_eq!(after["placements"][2]["x"], 160.0);
    }
}

#[tokio::test]
async fn an_edit_that_cannot_be_done_changes_nothing_and_says_why() {
    let shop = Shop::new();
    let id = shop.squares();
    let (_, _, bytes) = shop.get(&format!("/piece/{id}/board.json")).await;
    let before: Value = serde_json::from_slice(&bytes).unwrap();
    for edit in [
        json!({ "do": "place", "part": "nobody", "x": 1.0, "y": 1.0, "turn_deg": 0.0 }),
        json!({ "do": "place", "part": "p1", "x": 1e300, "y": 1.0, "turn_deg": 0.0 }),
        json!({ "do": "know", "part": "p1", "what": { "thickness_mm": -3.0 } }),
        json!({ "do": "know", "part": "p1", "what": { "name": "" } }),
        json!({ "do": "write_caption", "part": "p1", "text": "\u{1F600}" }),
        json!({ "do": "move_caption", "part": "p1", "x": 1.0, "y": 1.0 }),
        json!({ "do": "layout", "gap_mm": 1000.0 }),
        json!({ "do": "fly", "part": "p1" }),
    ] {
        let change = json!({ "base": before["revision"], "edits": [edit] });
        let (status, said) = shop.post(&format!("/piece/{id}/edits"), change).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{edit}: {said}");
        assert!(said["problem"].as_str().unwrap().len() > 8, "{said}");
    }
    let (_, _, bytes) = shop.get(&format!("/piece/{id}/board.json")).await;
    let after: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(before, after);
}

#[tokio::test]
async fn arranging_is_a_job_whose_end_is_heard() {
    let shop = Shop::new();
    let id = shop.squares();
    let (status, said) = shop
        .post(&format!("/piece/{id}/arrange"), json!({ "keep": false }))
        .await;
    assert_eq!(status, StatusCode::OK, "{said}");
    let (status, headers, _) = shop.get(&format!("/jobs/{}", said["job"])).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(headers[header::CONTENT_TYPE], "text/event-stream");
    let report = shop.ended(&said["job"]).await;
    assert_eq!(report["stage"], "done", "{report}");
    assert_eq!(report["result"]["undo"], "Arrange");
    assert_eq!(report["result"]["captions"].as_array().unwrap().len(), 3);
}

#[tokio::test]
async fn the_build_is_worked_out_as_a_job_is_told_in_the_docket_and_grows_stale_with_a_choice() {
    let shop = Shop::new();
    let id = shop.squares();
    let build = format!("/piece/{id}/build");
    let page = async || String::from_utf8(shop.get(&build).await.2).unwrap();
    let before = page().await;
    assert!(before.contains("How is it built?") && before.contains("id=\"stale\" hidden"));
    let (status, said) = shop.post(&build, json!({})).await;
    assert_eq!(status, StatusCode::OK, "{said}");
    let heard = shop.ended(&said["job"]).await;
    assert_eq!(heard["stage"], "done", "{heard}");
    let after = page().await;
    assert!(after.contains("Rebate needed") && after.contains("id=\"stale\" hidden"));
    // Adhesives are called by name, and what is to be bought says what one pack holds.
    assert!(
        after.contains("<summary>neutral-cure silicone</summary>"),
        "{after}"
    );
    assert!(after.contains("<td>1 x tube of 90 ml</td>"), "{after}");
    // Heights that nobody gave are a finding of mounting, and in the docket.
    assert!(after.contains("height"), "{after}");
    let revision: Value =
        serde_json::from_slice(&shop.get(&format!("/piece/{id}/board.json")).await.2).unwrap();
    let choices =
        json!({ "board": "foam-board-5", "hands": 2, "adhesives": { "p1": "ms-polymer" } });
    let sent =
        json!({ "base": revision["revision"], "edits": [{ "do": "choose", "choices": choices }] });
    let (status, heard) = shop.post(&format!("/piece/{id}/edits"), sent).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    assert!(!page().await.contains("id=\"stale\" hidden"));
    for (choices, what) in [
        (json!({ "hands": 0 }), "hands"),
        (json!({ "adhesives": { "gone": "ms-polymer" } }), "gone"),
        (json!({ "colour": "red" }), "colour"),
    ] {
        let sent =
            json!({ "base": heard["revision"], "edits": [{ "do": "choose", "choices": choices }] });
        let (status, refused) = shop.post(&format!("/piece/{id}/edits"), sent).await;
        assert!(status.is_client_error(), "{what}: {refused}");
        assert!(refused.to_string().contains(what), "{refused}");
    }
}

#[tokio::test]
async fn a_bundle_comes_back_as_a_piece_and_what_is_no_bundle_is_refused() {
    let shop = Shop::new();
    let id = shop.squares();
    let (status, headers, bytes) = shop.get(&format!("/piece/{id}/bundle.zip")).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(
        headers[header::CONTENT_DISPOSITION],
        "attachment; filename=\"squares.zip\""
    );
    let import = async |bytes| shop.upload("/pieces/import", bytes).await;
    let (status, said) = import(bytes.clone()).await;
    assert_eq!(status, StatusCode::OK, "{said}");
    let second = said["go"]
        .as_str()
        .unwrap()
        .replace("/board", "/piece.json");
    let first = shop.get(&format!("/piece/{id}/piece.json")).await.2;
    assert_eq!(shop.get(&second).await.2, first);
    let mut torn = bytes;
    torn.truncate(torn.len() / 2);
    let (status, said) = import(torn).await;
    assert!(status.is_client_error(), "{said}");
    assert!(!said["problem"].as_str().unwrap().is_empty());
    let intake = include_bytes!("../../../../tests/data/demo/intake.json");
    let (status, said) = import(intake.to_vec()).await;
    assert!(status.is_client_error(), "{said}");
    assert_eq!(
        said["problem"],
        "This is an intake form, not a piece document."
    );
}

#[tokio::test]
async fn a_piece_goes_to_the_bin_and_comes_back_and_any_state_of_it_can_be_gone_to() {
    let shop = Shop::new();
    let id = shop.squares();
    let shelf = async || String::from_utf8(shop.get("/").await.2).unwrap();
    let bin = format!("/piece/{id}/bin");
    assert_eq!(
        shop.post(&bin, json!({ "binned": true })).await.0,
        StatusCode::OK
    );
    let page = shelf().await;
    assert!(page.contains("In the bin: 1 piece") && !page.contains(&format!("/piece/{id}/board")));
    shop.post(&bin, json!({ "binned": false })).await;
    assert!(shelf().await.contains(&format!("/piece/{id}/board")));
    let edit = json!({ "base": 1, "edits": [{ "do": "name", "name": "Squares & <sons>" }] });
    let (_, heard) = shop.post(&format!("/piece/{id}/edits"), edit).await;
    let page = String::from_utf8(shop.get(&format!("/piece/{id}/history")).await.2).unwrap();
    assert!(page.contains("Name of the piece") && page.contains("the piece stands here"));
    let (status, at) = shop
        .post(&format!("/piece/{id}/go"), json!({ "revision": 1 }))
        .await;
    assert_eq!((status, &at["name"]), (StatusCode::OK, &json!("Squares")));
    let (_, at) = shop
        .post(
            &format!("/piece/{id}/go"),
            json!({ "revision": heard["revision"] }),
        )
        .await;
    assert_eq!(at["name"], "Squares & <sons>");
    let (status, _) = shop
        .post(&format!("/piece/{id}/go"), json!({ "revision": 99 }))
        .await;
    assert!(status.is_client_error());
}

#[tokio::test]
async fn what_is_not_there_is_a_page_for_people_and_data_for_modules() {
    let shop = Shop::new();
    for path in [
        "/piece/77/board",
        "/piece/x/board",
        "/nowhere",
        "/jobs/9",
        "/picture/half/x.png",
    ] {
        let page = request(Method::GET, path)
            .header(header::ACCEPT, "text/html")
            .body(Body::empty())
            .unwrap();
        let (status, headers, _) = shop.send(page).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{path}");
        assert_eq!(
            headers[header::CONTENT_TYPE],
            "text/html; charset=utf-8",
            "{path}"
        );
    }
}
