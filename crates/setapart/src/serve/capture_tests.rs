//! What the Capture room makes of a picture.

use super::tests::Shop;
use axum::http::StatusCode;
use image::{GrayImage, ImageFormat, Luma};
use serde_json::{Value, json};

/// Pixels an inch of the scans here: the fewest that a scan may have, so that looking at them is soon done.
const DPI: f64 = 100.0;

/// A scan of 360 x 60 mm as a PNG, white, with dark bars of 12 mm height: where they begin from the left, and how long they
/// are, mm.
fn scan(bars: &[[f64; 2]]) -> Vec<u8> {
    let px = |mm: f64| (mm * DPI / 25.4).round() as u32;
    let mut page = GrayImage::from_pixel(px(360.0), px(60.0), Luma([250]));
    for &[from, long] in bars {
        for x in px(from)..px(from + long) {
            for y in px(24.0)..px(36.0) {
                page.put_pixel(x, y, Luma([30]));
            }
        }
    }
    let mut bytes = std::io::Cursor::new(Vec::new());
    page.write_to(&mut bytes, ImageFormat::Png).unwrap();
    bytes.into_inner()
}

#[tokio::test]
async fn a_part_too_large_for_a_picture_is_taken_without_one_and_the_page_is_told() {
    let shop = Shop::new();
    let (_, begun) = shop.post("/pieces", json!({ "name": "Bars" })).await;
    let piece = begun["go"].as_str().unwrap().rsplit_once('/').unwrap().0;
    // 12 pixels a millimetre, and 4000 at most: 333 mm.
    let path = format!("{piece}/photos?name=bars");
    let (status, put) = shop.upload(&path, scan(&[[10.0, 340.0]])).await;
    assert_eq!(status, StatusCode::OK, "{put}");
    // There is no sheet in it.
    assert_eq!(shop.ended(&put["job"]).await["stage"], "failed");
    let photo = format!("/photo/{}", put["photo"]);
    let data = shop.get(&format!("{photo}.json")).await.2;
    let data: Value = serde_json::from_slice(&data).unwrap();
    let way = json!({ "do": "way", "taken": { "way": "scan", "dpi": [DPI, DPI] } });
    let change = json!({ "base": data["revision"], "change": way });
    let (status, seen) = shop.post(&format!("{photo}/work"), change).await;
    assert_eq!(status, StatusCode::OK, "{seen}");
    let seen = shop.ended(&seen["job"]).await;
    assert_eq!(seen["stage"], "done", "{seen}");

    let take = async || {
        let (_, said) = shop.post(&format!("{photo}/take"), json!({})).await;
        let done = shop.ended(&said["job"]).await;
        assert_eq!(done["stage"], "done", "{done}");
        done["result"].clone()
    };
    let told = |done: &Value, whose: &str| {
        let all = done["without_picture"].as_array().unwrap().clone();
        assert_eq!(all.len(), 1, "{all:?}");
        let text = all[0].as_str().unwrap().to_owned();
        assert!(text.starts_with(whose) && text.contains("333 mm"), "{text}");
    };
    let done = take().await;
    assert_eq!(done["new"], 1);
    told(&done, "Part 1 has no picture: ");
    // Seen from behind it is the same bar.
    shop.post(&format!("{photo}/role"), json!({ "role": "backs" }))
        .await;
    told(&take().await, "The back of Part 1 has no picture: ");
}
