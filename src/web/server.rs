//! The server: loopback only, its routes, and how it says where it is.

use std::future::Future;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::extract::{Path, State};
use axum::middleware::from_fn_with_state;
use axum::response::Html;
use axum::routing::{get, post};

use super::code::{self, UploadCode};
use super::desk::{Asked, Desk, OnDesk};
use super::fault::Fault;
use super::guard::{self, Guard, Secrets};
use super::patience::Patience;
use super::posted::Queried;
use super::state::{App, work};
use super::{actions, body, compare, lan, listen, mend, pictures, scorers, shell, start, upload, whole, whose};
use crate::book::{Book, broods, decisions};
use crate::error::{Error, Result};

/// How the page is served.
#[derive(Debug, Clone)]
pub struct Options {
    /// The port; 0 takes a free one.
    pub port: u16,
    /// This machine's address on the local network, where phones may upload photos; see [`own_address`].
    ///
    /// [`own_address`]: super::own_address
    pub lan: Option<IpAddr>,
    /// The secrets of this run.
    pub secrets: Secrets,
    /// The clock.
    pub now: fn() -> jiff::Timestamp,
    /// Today where the breeder is, as the commands take it.
    pub today: fn() -> jiff::civil::Date,
    /// How long others are waited for.
    pub patience: Patience,
}

/// What a person has to know once the server listens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Announced {
    /// The address to open on this machine; its token lets one browser in.
    pub address: String,
    /// The address for a phone, without and with the code; only where that was asked for.
    pub phone: Option<Phone>,
}

/// What a phone needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phone {
    /// The address to type.
    pub address: String,
    /// The code to type.
    pub code: String,
    /// Address and code in one, for a QR code.
    pub both: String,
}

/// Serves the book until `stop` ends; `announce` is told where.
///
/// # Errors
/// The port is taken; no local network where phones were to be let in.
pub async fn serve(
    book: Book,
    options: Options,
    announce: impl FnOnce(&Announced),
    stop: impl Future<Output = ()> + Send + 'static,
) -> Result<()> {
    let taken = |e: std::io::Error| {
        Error::failed(format!("port {}", options.port), e, "choose another with --port, or leave it out for a free one")
    };
    let listener = listen::open(SocketAddr::from((Ipv4Addr::LOCALHOST, options.port))).map_err(taken)?;
    let port = listener.local_addr().map_err(taken)?.port();
    let guard = Arc::new(Guard::new(options.secrets.clone(), port));
    let app = Arc::new(App::new(book, options.now, options.today, options.patience));
    let phone = match options.lan {
        Some(own) => Some(open_door(&app, own, &options)?),
        None => None,
    };
    announce(&Announced {
        address: format!("http://127.0.0.1:{port}{}?token={}", guard::ENTER, options.secrets.token),
        phone,
    });
    listen::serve(listener, router(app, guard), options.patience, stop).await;
    Ok(())
}

/// Opens the door for phones on a port of its own; it closes when the program ends.
fn open_door(app: &Arc<App>, own: IpAddr, options: &Options) -> Result<Phone> {
    let closed = |e: std::io::Error| Error::failed("--lan", e, "leave --lan out, or look at this machine's firewall");
    let listener = listen::open(SocketAddr::from((own, 0))).map_err(closed)?;
    let port = listener.local_addr().map_err(closed)?.port();
    let code = Arc::new(UploadCode::new(code::spell(options.secrets.code), Instant::now()));
    let text = code.text().to_owned();
    let routes = lan::router(Arc::clone(app), code);
    tokio::spawn(listen::serve(listener, routes, options.patience, std::future::pending::<()>()));
    let address = format!("http://{}/", SocketAddr::from((own, port)));
    Ok(Phone { both: format!("{address}?code={text}"), address, code: text })
}

fn router(app: Arc<App>, guard: Arc<Guard>) -> Router {
    Router::new()
        .route("/", get(all_broods))
        .route("/brood/{name}", get(one_brood))
        .route("/scorers", get(two_scorers))
        .route("/picture/{hash}", get(pictures::preview))
        .route("/decide", post(actions::class))
        .route("/accept", post(actions::accept))
        .route("/accept-all", post(whole::accept_all))
        .route("/sex", post(actions::sex))
        .route("/aside", post(actions::aside))
        .route("/back", post(actions::back))
        .route("/gone", post(actions::gone))
        .route("/latest", get(latest))
        .route("/undo", post(whole::undo))
        .route("/left", post(whole::left))
        .route("/ratio", post(whole::ratio))
        .route("/strip", post(whole::strip))
        .route("/shows", post(whose::shows))
        .route("/mend", post(mend::mend))
        .route("/mend/begin", post(mend::begin))
        .route("/corners", post(mend::corners))
        .route("/compare", get(compare::page))
        .route("/crop/{region}", get(compare::crop))
        .layer(from_fn_with_state(app.patience(), body::in_time))
        .route("/photos", post(upload::photo))
        .route("/page.css", get(shell::css))
        .route("/page.js", get(shell::page_js))
        .route("/tray.js", get(shell::tray_js))
        .route("/photos.js", get(shell::photos_js))
        .with_state(app)
        .layer(from_fn_with_state(guard, guard::check))
}

type Page = std::result::Result<Html<String>, Fault>;

async fn all_broods(State(app): State<Arc<App>>, Queried(from): Queried<start::From>) -> Page {
    work(&app, move |app| Ok(Html(start::page(&app.book().read(), &from)?.into_string()))).await
}

async fn one_brood(State(app): State<Arc<App>>, Path(name): Path<String>, Queried(asked): Queried<Asked>) -> Page {
    work(&app, move |app| {
        let photo = OnDesk::find(&app.book().read(), &name, &asked)?.photo.hash;
        mend::catch_up(app, &photo)?;
        let book = app.book();
        let desk = Desk::lay(&book.read(), &name, &asked)?;
        Ok(Html(desk.page(&broods::labels(&book.read())?).into_string()))
    })
    .await
}

/// The number of the latest decision, so that a tab notices what another one decided.
async fn latest(State(app): State<Arc<App>>) -> std::result::Result<String, Fault> {
    work(&app, |app| Ok(decisions::latest_number(&app.book().read())?.to_string())).await
}

async fn two_scorers(State(app): State<Arc<App>>) -> Page {
    work(&app, |app| Ok(Html(scorers::page(&app.book().read())?.into_string()))).await
}
