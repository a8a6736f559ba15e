//! `serve`: the app on the bench, in the browser, on this machine alone.
//!
//! Every request passes the guard, then a room answers: pages are typed templates, data is JSON. The store is the only
//! state that counts; what is kept in memory has a bound and can be lost.

mod assets;
mod backs;
mod bench;
mod body;
mod capture_calls;
#[cfg(test)]
mod capture_tests;
mod demo_piece;
mod device_kinds;
mod door;
mod drafts;
#[cfg(test)]
mod edit_tests;
mod edits;
mod guard;
mod heard;
mod icons;
mod inside;
mod job_calls;
mod jobs;
mod ledger_forms;
#[cfg(test)]
mod ledger_tests;
#[cfg(test)]
mod look_tests;
mod page;
mod phones;
mod photo_work;
mod pictures;
mod piece_calls;
mod refusal;
mod rooms;
mod scene;
mod settings_calls;
mod studies;
mod taking;
#[cfg(test)]
mod tests;
mod words;

use crate::cli;
use crate::failure::Failure;
use crate::say;
use axum::Router;
use axum::body::Body;
use axum::http::header;
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use bench::Bench;
use door::Door;
use guard::Names;
use maud::Markup;
use refusal::Refusal;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use workshop::Workshop;

/// Runs the app until the program is ended.
pub(crate) fn run(args: &cli::Serve) -> Result<(), Failure> {
    let folder = match &args.workshop {
        Some(folder) => folder.clone(),
        None => crate::commands::workshop::usual_folder(),
    };
    let workshop = Workshop::open_or_create(&folder)?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(Failure::NoServer)?;
    runtime.block_on(async {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, args.port));
        let listener = tokio::net::TcpListener::bind(address)
            .await
            .map_err(|source| Failure::Port {
                port: args.port,
                source,
            })?;
        let port = listener.local_addr().map_err(Failure::NoServer)?.port();
        let url = format!("http://127.0.0.1:{port}/");
        say::line(format_args!(
            "Setapart is at {url} (workshop in {}); end it with Ctrl+C",
            folder.display()
        ));
        if !args.no_browser {
            open_browser(&url);
        }
        let bench = Bench::new(workshop);
        if args.lan {
            let_phones_in(&bench).await?;
        }
        let app = app(bench, Names::of_this_machine(port));
        axum::serve(Door::new(listener), app)
            .await
            .map_err(Failure::NoServer)
    })
}

/// Opens a second socket, in the local network, for the phone's page alone.
async fn let_phones_in(bench: &Arc<Bench>) -> Result<(), Failure> {
    let ip = phones::own_address().ok_or(Failure::NoNetwork)?;
    let listener = tokio::net::TcpListener::bind((ip, 0))
        .await
        .map_err(Failure::NoServer)?;
    let address = listener.local_addr().map_err(Failure::NoServer)?;
    bench.phones.open_at(address);
    say::line(format_args!(
        "Phones may send photos to http://{address}/ with a code that the Capture page shows"
    ));
    let app = phones::phone_app(Arc::clone(bench), address);
    tokio::spawn(async move {
        // Ends with the program; should it end before, phones hear nothing and the bench goes on.
        let _ = axum::serve(Door::new(listener), app).await;
    });
    Ok(())
}

/// All rooms behind the guard. Needs no socket: tests call it directly.
pub(crate) fn app(bench: Arc<Bench>, names: Names) -> Router {
    Router::new()
        .route("/", get(rooms::shelf::page))
        .route("/pieces", post(rooms::shelf::begin))
        .route("/pieces/import", post(rooms::shelf::import))
        .route("/demo", post(rooms::shelf::demo))
        .route("/capture-sheet/{paper}", get(rooms::shelf::capture_sheet))
        .route("/piece/{id}/board", get(rooms::board::page))
        .route("/piece/{id}/board.json", get(rooms::board::data))
        .route("/piece/{id}/edits", post(piece_calls::edit))
        .route("/piece/{id}/draft", post(drafts::keep))
        .route("/piece/{id}/undo", post(piece_calls::undo))
        .route("/piece/{id}/redo", post(piece_calls::redo))
        .route("/piece/{id}/history", get(rooms::history::page))
        .route("/piece/{id}/go", post(rooms::history::go))
        .route("/piece/{id}/bin", post(rooms::shelf::bin))
        .route("/piece/{id}/bundle.zip", get(rooms::shelf::bundle))
        .route("/piece/{id}/arrange", post(piece_calls::arrange))
        .route("/piece/{id}/frames", post(piece_calls::frames))
        .route("/piece/{id}/piece.json", get(piece_calls::document))
        .route("/piece/{id}/small.svg", get(piece_calls::small))
        .route("/piece/{id}/news", get(job_calls::news))
        .route("/piece/{id}/phone", post(phones::new_code))
        .route(
            "/piece/{id}/sheets",
            get(rooms::sheets::page).post(rooms::sheets::draw),
        )
        .route(
            "/piece/{id}/sheets/{revision}/{*name}",
            get(rooms::sheets::file),
        )
        .route(
            "/piece/{id}/intake",
            get(rooms::intake::page).post(rooms::intake::answer),
        )
        .route(
            "/piece/{id}/donors",
            get(rooms::donors::page).post(rooms::donors::answer),
        )
        .route(
            "/piece/{id}/costing",
            get(rooms::costing::page).post(rooms::costing::answer),
        )
        .route("/piece/{id}/costing/{name}", get(rooms::costing::file))
        .route(
            "/chances/{kind}",
            get(rooms::chances::page).post(rooms::chances::keep),
        )
        .route("/chances/{kind}/kind.json", get(rooms::chances::document))
        .route("/stock", get(rooms::stock::page).post(rooms::stock::keep))
        .route(
            "/piece/{id}/build",
            get(rooms::build::page).post(rooms::build::work_out),
        )
        .route(
            "/piece/{id}/homes",
            get(rooms::homes::page).post(rooms::homes::find),
        )
        .route("/piece/{id}/homes.json", get(rooms::homes::data))
        .route("/piece/{id}/homes/{name}", get(rooms::homes::underlay))
        .route("/piece/{id}/drawer", get(rooms::drawer::page))
        .route("/piece/{id}/capture", get(rooms::capture::page))
        .route("/piece/{id}/photos", post(capture_calls::add))
        .route("/photo/{id}", get(capture_calls::data))
        .route("/photo/{id}/work", post(photo_work::work))
        .route("/photo/{id}/take", post(taking::take))
        .route("/photo/{id}/role", post(backs::set_role))
        .route("/photo/{id}/remove", post(capture_calls::remove))
        .route("/photo/{id}/step/{way}", post(capture_calls::step))
        .route("/picture/{scale}/{name}", get(piece_calls::picture))
        .route("/jobs/{id}", get(job_calls::hear))
        .route("/jobs/{id}/stop", post(job_calls::stop))
        .route("/settings", post(settings_calls::set))
        .route("/assets/{version}/{name}", get(assets::get))
        .fallback(async || Refusal::not_there("such page").page())
        .method_not_allowed_fallback(async || {
            Refusal::new(
                axum::http::StatusCode::METHOD_NOT_ALLOWED,
                "This cannot be done here.",
                "Load the page again.",
            )
        })
        .layer(axum::middleware::from_fn(as_page))
        .layer(from_fn_with_state(names, guard::check))
        .with_state(bench)
}

/// Refusals that a person sees come as a page, those that a module hears as data.
async fn as_page(request: axum::extract::Request, next: axum::middleware::Next) -> Response {
    let page = refusal::wants_page(request.headers());
    let response = next.run(request).await;
    match response.extensions().get::<Refusal>() {
        Some(refusal) if page => refusal.page(),
        _ => response,
    }
}

fn html_page(markup: Markup) -> Response {
    let headers = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
    (headers, markup.into_string()).into_response()
}

/// A file that the browser keeps under that name.
fn download(kind: &str, name: &str, bytes: impl Into<Body>) -> Response {
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}\""),
        ),
    ];
    (headers, bytes.into()).into_response()
}

/// Asks the system to show a page; where it cannot, the address is printed anyway.
fn open_browser(url: &str) {
    let opener = match std::env::consts::OS {
        "macos" => "open",
        "windows" => "explorer",
        _ => "xdg-open",
    };
    let _ = std::process::Command::new(opener)
        .arg(url)
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn();
}
