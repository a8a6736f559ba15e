//! The ledger's rooms without a socket: forms are kept as revisions, answers come back, bad fields are told by name.

use super::tests::Shop;
use axum::http::StatusCode;
use serde_json::{Value, json};

fn intake(more: Value) -> Value {
    let mut fields = json!({
        "device": "Recorder", "kind": "handheld", "shown_kind": "handheld", "currency": "EUR", "sign.supply": "surges",
        "part.0.name": "Display", "part.0.kind": "display", "part.0.state": "whole", "part.0.value": "26,50",
        "repaired": "95", "labour": "32.00", "fee": "9", "piece_price": "220", "piece_cost": "118", "sells": "75 %",
    });
    for (name, value) in more.as_object().unwrap() {
        fields[name] = value.clone();
    }
    fields
}

#[tokio::test]
async fn an_intake_form_is_kept_with_its_verdict_and_undo_takes_it_back() {
    let shop = Shop::new();
    let id = shop.squares();
    let url = format!("/piece/{id}/intake");
    let sent = json!({ "base": 1, "fields": intake(json!({})) });
    let (status, heard) = shop.post(&url, sent).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    assert!(
        heard["answer"]
            .as_str()
            .unwrap()
            .contains("Chance of repair")
    );
    let document = shop.get(&format!("/piece/{id}/piece.json")).await.2;
    let document: Value = serde_json::from_slice(&document).unwrap();
    let kept = &document["shop"]["intake"];
    assert_eq!(kept["parts"][0]["value_minor"], 2650);
    assert_eq!(kept["money"]["selling_fee"], 0.09);
    assert_eq!(kept["signs"]["supply"], "surges");
    let page = String::from_utf8(shop.get(&url).await.2).unwrap();
    assert!(
        page.contains("value=\"26.50\""),
        "amounts come back as they are written"
    );
    // The same again is no new revision.
    let again = json!({ "base": heard["revision"], "fields": intake(json!({})) });
    assert_eq!(
        shop.post(&url, again).await.1["revision"],
        heard["revision"]
    );
    let seen = json!({ "revision": heard["revision"] });
    let (status, _) = shop.post(&format!("/piece/{id}/undo"), seen).await;
    assert_eq!(status, StatusCode::OK);
    let document = shop.get(&format!("/piece/{id}/piece.json")).await.2;
    let document: Value = serde_json::from_slice(&document).unwrap();
    assert!(document.get("shop").is_none());
}

#[tokio::test]
async fn what_cannot_be_in_a_form_is_told_by_its_field_and_nothing_is_kept() {
    let shop = Shop::new();
    let id = shop.squares();
    let costing = json!({
        "currency": "EUR", "pricing": "margin", "asked": "35", "frame.0.title": "a", "frame.1.title": "b", "frame.2.title": "c",
        "frame.3.title": "d",
    });
    for (room, fields, field) in [
        (
            "intake",
            intake(json!({ "part.0.value": "-3" })),
            "part.0.value",
        ),
        (
            "intake",
            intake(json!({ "part.0.value": "1.234,5" })),
            "part.0.value",
        ),
        (
            "intake",
            intake(json!({ "part.0.name": "" })),
            "part.0.name",
        ),
        ("intake", intake(json!({ "sells": "140" })), "sells"),
        ("intake", intake(json!({ "currency": "EURO" })), "currency"),
        ("intake", intake(json!({ "device": " " })), "device"),
        (
            "costing",
            {
                let mut c = costing.clone();
                c["labour"] = json!("cheap");
                c
            },
            "labour",
        ),
        (
            "costing",
            {
                let mut c = costing.clone();
                c["size"] = json!("10");
                c["learning"] = json!("20");
                c
            },
            "learning",
        ),
        (
            "costing",
            {
                let mut c = costing.clone();
                c["divisor"] = json!("3");
                c
            },
            "divisor",
        ),
        (
            "donors",
            json!({ "currency": "EUR", "lot.0.title": "a lot", "lot.0.price": "" }),
            "lot.0.price",
        ),
        (
            "donors",
            json!({ "currency": "EUR", "lot.0.title": "a lot", "lot.0.price": "3", "lot.0.has": "p1 much" }),
            "lot.0.has",
        ),
        (
            "donors",
            json!({ "currency": "EUR", "table": "id,cost\na,3\n" }),
            "table",
        ),
        (
            "donors",
            json!({ "currency": "EUR", "table": "id,price,currency\na,3,USD\n" }),
            "table",
        ),
    ] {
        let sent = json!({ "base": 1, "fields": fields });
        let (status, heard) = shop.post(&format!("/piece/{id}/{room}"), sent).await;
        assert_eq!(
            status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{room} {field}: {heard}"
        );
        assert_eq!(heard["field"], field, "{heard}");
        assert!(!heard["remedy"].as_str().unwrap().is_empty());
    }
    let document = shop.get(&format!("/piece/{id}/piece.json")).await.2;
    assert!(!String::from_utf8(document).unwrap().contains("\"shop\""));
}

#[tokio::test]
async fn lots_are_chosen_and_what_is_in_stock_need_not_be_bought() {
    let shop = Shop::new();
    let id = shop.squares();
    let url = format!("/piece/{id}/donors");
    let lots = json!({
        "currency": "EUR", "confidence": "90", "need.0.part": "p1", "need.1.part": "p2", "need.1.stand_in": "4",
        "lot.0.title": "A whole one", "lot.0.price": "20", "lot.0.has": "p1 95 %",
    });
    let (status, heard) = shop.post(&url, json!({ "base": 1, "fields": lots })).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    let answer = heard["answer"].as_str().unwrap();
    assert!(
        answer.contains("Buy for 24.00 EUR") && answer.contains("a stand-in for p2"),
        "{answer}"
    );
    // Out of reach is no refusal: the form is kept, and the answer says what can be had.
    let mut sure = lots.clone();
    sure["confidence"] = json!("99");
    let (status, heard) = shop
        .post(&url, json!({ "base": heard["revision"], "fields": sure }))
        .await;
    assert_eq!(status, StatusCode::OK);
    assert!(
        heard["answer"].as_str().unwrap().contains("95.0 %"),
        "{heard}"
    );
    let stock = json!({ "stock.0.name": "Square p1", "stock.0.kind": "other", "stock.0.condition": "whole", "stock.0.for": id.to_string() });
    let (status, put) = shop
        .post("/stock", json!({ "base": 0, "fields": stock }))
        .await;
    assert_eq!(status, StatusCode::OK, "{put}");
    let number = put["set"]["stock.0.id"].as_str().unwrap().to_owned();
    let mut back = lots.clone();
    back["confidence"] = json!("95");
    let (_, heard) = shop
        .post(&url, json!({ "base": heard["revision"], "fields": back }))
        .await;
    assert!(
        heard["answer"]
            .as_str()
            .unwrap()
            .contains("Buy for 4.00 EUR"),
        "{heard}"
    );
    let page = String::from_utf8(shop.get("/stock").await.2).unwrap();
    assert!(page.contains("Square p1") && page.contains("Squares"));
    let mut gone = json!({});
    gone[format!("gone.{number}.id")] = json!(number);
    let (status, _) = shop
        .post("/stock", json!({ "base": 0, "fields": gone }))
        .await;
    assert_eq!(status, StatusCode::OK);
    let page = String::from_utf8(shop.get("/stock").await.2).unwrap();
    assert!(page.contains("The stock is empty"));
}

#[tokio::test]
async fn a_reckoning_comes_as_a_page_and_as_tables() {
    let shop = Shop::new();
    let id = shop.squares();
    let page = shop.get(&format!("/piece/{id}/costing")).await;
    assert_eq!(page.0, StatusCode::OK);
    let page = String::from_utf8(page.2).unwrap();
    assert!(page.contains("Where the money goes") && page.contains("Other frames"));
    assert!(
        page.contains("mass is not known") || page.contains("depth is not known"),
        "an unknown parcel says what is missing"
    );
    let csv = shop.get(&format!("/piece/{id}/costing/cost.csv")).await;
    assert!(csv.2.starts_with(b"group,what"));
    let xlsx = shop.get(&format!("/piece/{id}/costing/cost.xlsx")).await;
    assert!(xlsx.2.starts_with(b"PK"));
    assert_eq!(
        shop.get(&format!("/piece/{id}/costing/cost.exe")).await.0,
        StatusCode::NOT_FOUND
    );
}
