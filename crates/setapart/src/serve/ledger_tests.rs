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

#[tokio::test]
async fn what_came_of_a_device_counts_for_the_next_one_but_not_for_itself() {
    let shop = Shop::new();
    let (first, next) = (shop.squares(), shop.squares());
    let url = |id: &i64| format!("/piece/{id}/intake");
    let came = json!({ "came.condition": "power", "came.repaired": "yes", "part.0.came": "no" });
    let sent = json!({ "base": 1, "fields": intake(came) });
    let (status, heard) = shop.post(&url(&first), sent).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    let own = heard["answer"].as_str().unwrap();
    assert!(own.contains("Own cases: 0."), "{own}");
    let page = String::from_utf8(shop.get(&url(&first)).await.2).unwrap();
    assert!(page.contains("value=\"power\" selected") && page.contains("value=\"no\" selected"));
    let sent = json!({ "base": 2, "fields": intake(json!({})) });
    let answer = shop.post(&url(&next), sent).await.1["answer"].to_string();
    assert!(answer.contains("Own cases: 1."), "{answer}");
    // The command counts the same table and comes to the same verdict.
    let kind = ledger::intake::DeviceKind::built_in().unwrap().remove(0);
    let csv = b"kind,condition,repaired,sign:supply,part:display\nhandheld,power,yes,surges,no\n";
    let experience = ledger::intake::Experience::from_csv(csv, &kind).unwrap();
    let document = shop.get(&format!("/piece/{next}/piece.json")).await.2;
    let document: Value = serde_json::from_slice(&document).unwrap();
    let form = serde_json::to_vec(&document["shop"]["intake"]).unwrap();
    let form = ledger::intake::Intake::from_json(&form).unwrap();
    let verdict = ledger::intake::judge(&form, &kind, &experience, None).unwrap();
    let chance = verdict.repair_chance.to_string();
    assert!(answer.contains(&chance), "{chance}: {answer}");
    // Said again, it is the same device; taken back, it tells nothing.
    let sent = json!({ "base": heard["revision"], "fields": intake(json!({})) });
    assert_eq!(shop.post(&url(&first), sent).await.0, StatusCode::OK);
    let page = String::from_utf8(shop.get(&url(&next)).await.2).unwrap();
    assert!(page.contains("Own cases: 0."));
}

#[tokio::test]
async fn chances_are_the_shops_own_where_it_changed_them_and_can_be_put_back() {
    let shop = Shop::new();
    let id = shop.squares();
    let url = "/chances/handheld";
    let page = String::from_utf8(shop.get(url).await.2).unwrap();
    assert!(page.contains("recalled, to be checked") && !page.contains("your own<"));
    let (status, heard) = shop
        .post(url, json!({ "base": 0, "fields": { "c.1.repair": "80" } }))
        .await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    assert_eq!(heard["answer"].to_string().matches("your own<").count(), 1);
    // Shares and rows are brought to 100 together.
    let shares = json!({ "c.0.share": "30", "c.1.share": "30", "c.2.share": "12", "c.3.share": "18", "c.4.share": "10" });
    let (_, heard) = shop.post(url, json!({ "base": 0, "fields": shares })).await;
    let kind: Value =
        serde_json::from_slice(&shop.get(&format!("{url}/kind.json")).await.2).unwrap();
    assert_eq!(kind["conditions"][1]["repair"], 0.8, "{heard}");
    assert_eq!(kind["conditions"][1]["share"], 0.3);
    assert!(kind["conditions"][2].get("standing").is_none());
    // The verdict goes by them.
    let sent = json!({ "base": 1, "fields": intake(json!({})) });
    let answer = shop.post(&format!("/piece/{id}/intake"), sent).await.1["answer"].to_string();
    assert!(answer.contains("your own<"), "{answer}");
    for (fields, field) in [
        (json!({ "c.0.repair": "101" }), "c.0.repair"),
        (json!({ "c.0.hours": "0" }), "c.0.hours"),
        (
            json!({ "s.0.0.0": "0", "s.0.0.1": "0", "s.0.0.2": "0", "s.0.0.3": "0", "s.0.0.4": "0" }),
            "s.0.0.0",
        ),
    ] {
        let (status, heard) = shop.post(url, json!({ "base": 0, "fields": fields })).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{heard}");
        assert_eq!(heard["field"], field);
    }
    let back = json!({ "base": 0, "fields": { "as_shipped": "yes" } });
    assert_eq!(shop.post(url, back).await.1["again"], true);
    let page = String::from_utf8(shop.get(url).await.2).unwrap();
    assert!(!page.contains("your own<"));
    assert_eq!(shop.get("/chances/toaster").await.0, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn cells_that_travel_along_are_in_the_parcels_statement() {
    let shop = Shop::new();
    let id = shop.squares();
    let url = format!("/piece/{id}/costing");
    let mut fields = json!({
        "currency": "EUR", "pricing": "margin", "asked": "35", "frame.0.title": "a", "frame.1.title": "b", "mass": "1500",
        "cell.0.name": "spare", "cell.0.volts": "14,4", "cell.0.amp_hours": "5", "cell.0.is": "battery",
    });
    let sent = json!({ "base": 1, "fields": fields });
    let (status, heard) = shop.post(&url, sent).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    let document = shop.get(&format!("/piece/{id}/piece.json")).await.2;
    let document: Value = serde_json::from_slice(&document).unwrap();
    assert_eq!(document["shop"]["parcel"]["cells"][0]["amp_hours"], 5.0);
    fields["cell.0.volts"] = json!("");
    let sent = json!({ "base": heard["revision"], "fields": fields });
    let (status, heard) = shop.post(&url, sent).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(heard["field"], "cell.0.volts");
}

#[tokio::test]
async fn a_window_that_fell_behind_neither_reverts_the_stock_nor_writes_over_what_another_one_changed()
 {
    let shop = Shop::new();
    let new =
        json!({ "stock.0.name": "Strap", "stock.0.kind": "other", "stock.0.condition": "whole" });
    let (status, put) = shop
        .post("/stock", json!({ "base": 0, "fields": new }))
        .await;
    assert_eq!(status, StatusCode::OK, "{put}");
    let first = json!({
        "stock.0.id": put["set"]["stock.0.id"], "stock.0.name": "Strap", "stock.0.kind": "other", "stock.0.condition": "whole",
        "stock.0.model": "", "stock.0.origin": "", "stock.0.for": "", "stock.0.note": "",
    });
    let send = async |name: &str, text: &str, shown: &Value| {
        let mut fields = shown.clone();
        fields[name] = json!(text);
        let sent = json!({ "base": 0, "fields": fields, "shown": shown });
        (shop.post("/stock", sent).await, fields)
    };
    let ((status, heard), second) = send("stock.0.model", "Dovrin 2", &first).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    // The other window shows the line as it was first. What it does not touch stays as it is now.
    let ((status, heard), _) = send("stock.0.note", "in box 4", &first).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    let page = String::from_utf8(shop.get("/stock").await.2).unwrap();
    assert!(page.contains("Dovrin 2") && page.contains("in box 4"));
    let ((status, heard), _) = send("stock.0.model", "Eskat", &first).await;
    assert_eq!(status, StatusCode::CONFLICT, "{heard}");
    assert_eq!(heard["field"], "stock.0.model");
    let page = String::from_utf8(shop.get("/stock").await.2).unwrap();
    assert!(page.contains("Dovrin 2") && !page.contains("Eskat"));
    // The window that wrote it may change it again.
    let ((status, _), _) = send("stock.0.model", "Eskat", &second).await;
    assert_eq!(status, StatusCode::OK);
}

#[tokio::test]
async fn a_kind_or_a_condition_that_nobody_knows_is_told_at_its_field_and_nothing_is_stored() {
    let shop = Shop::new();
    for (kind, condition, field) in [
        ("boat", "whole", "stock.0.kind"),
        ("board", "wet", "stock.0.condition"),
    ] {
        let line = json!({ "stock.0.name": "Strap", "stock.0.kind": kind, "stock.0.condition": condition });
        let (status, said) = shop
            .post("/stock", json!({ "base": 0, "fields": line }))
            .await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{said}");
        assert_eq!(said["field"], field);
    }
    let page = String::from_utf8(shop.get("/stock").await.2).unwrap();
    assert!(page.contains("The stock is empty"));
}

#[tokio::test]
async fn a_window_that_fell_behind_does_not_revert_chances() {
    let shop = Shop::new();
    let url = "/chances/handheld";
    let kind = async || -> Value {
        let bytes = shop.get(&format!("{url}/kind.json")).await.2;
        serde_json::from_slice(&bytes).unwrap()
    };
    // As the form has them, in percent; twelve digits tell them apart.
    let percent = |share: &Value| (share.as_f64().unwrap() * 1e8).round() / 1e6;
    let before = kind().await;
    let shown = json!({
        "c.0.repair": percent(&before["conditions"][0]["repair"]).to_string(),
        "c.1.repair": percent(&before["conditions"][1]["repair"]).to_string(),
    });
    let send = async |name: &str, text: &str, shown: &Value| {
        let mut fields = shown.clone();
        fields[name] = json!(text);
        let sent = json!({ "base": 0, "fields": fields, "shown": shown });
        shop.post(url, sent).await
    };
    let (status, heard) = send("c.1.repair", "81", &shown).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    assert_eq!(heard["stored"]["c.1.repair"], "81");
    let (status, heard) = send("c.0.repair", "7", &shown).await;
    assert_eq!(status, StatusCode::OK, "{heard}");
    let now = kind().await;
    assert_eq!(now["conditions"][0]["repair"], 0.07);
    assert_eq!(now["conditions"][1]["repair"], 0.81);
    let (status, heard) = send("c.1.repair", "33", &shown).await;
    assert_eq!(status, StatusCode::CONFLICT, "{heard}");
    assert_eq!(heard["field"], "c.1.repair");
    assert_eq!(kind().await, now);
}
