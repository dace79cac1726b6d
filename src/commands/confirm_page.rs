//! The confirm page: starts the server, prints its address, opens a browser.

use std::process::{Command, Stdio};

use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;

use super::{Done, desk};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::web::{self, Announced, Options, Patience, Secrets};

/// Options of the page.
#[derive(Debug, Default, clap::Args)]
pub(super) struct PageArgs {
    /// The page's port on this machine; without it a free one.
    #[arg(long, default_value_t = 0, value_name = "P", hide_default_value = true, allow_negative_numbers = true,
          value_parser = desk::whole::<u16>(0, Some(u64::from(u16::MAX))))]
    port: u16,
    /// Print the address, but open no browser.
    #[arg(long)]
    no_browser: bool,
    /// Let phones on the local network upload photos, behind a code that is printed here and lasts a quarter of an hour.
    #[arg(long)]
    lan: bool,
}

/// Serves the page until it is interrupted.
pub(super) fn serve(book: Book, args: &PageArgs) -> Result<Done> {
    let broken = |e: std::io::Error| Error::failed("confirm", e, "try again");
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().map_err(broken)?;
    let lan = args.lan.then(web::own_address).transpose()?;
    let (now, today, patience) = (jiff::Timestamp::now, desk::today, Patience::default());
    let options = Options { port: args.port, lan, secrets: secrets()?, now, today, patience };
    let stop = async {
        // Without a way to hear the interrupt the page goes on until the process is ended.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    let no_browser = args.no_browser;
    runtime.block_on(web::serve(book, options, move |said| announce(said, no_browser), stop))?;
    Ok(Done::All)
}

fn announce(said: &Announced, no_browser: bool) {
    // The page is served all the same when stdout is gone.
    let _closed = desk::print(format_args!("{}\n", said.address));
    desk::note("The address lets one browser in. Every decision is saved at once; end with Ctrl-C.");
    if let Some(phone) = &said.phone {
        desk::note(format_args!("\nFor a phone on this network: {} with the code {}", phone.address, phone.code));
        if let Ok(code) = QrCode::new(&phone.both) {
            desk::note(code.render::<Dense1x2>().build());
        }
    }
    if !no_browser {
        open_browser(&said.address);
    }
}

/// Opens the address by the system's own way; that there is no browser is no failure.
fn open_browser(address: &str) {
    let (program, first): (&str, &[&str]) = if cfg!(target_os = "macos") {
        ("open", &[])
    } else if cfg!(windows) {
        ("cmd", &["/C", "start", ""])
    } else {
        ("xdg-open", &[])
    };
    let started = Command::new(program)
        .args(first)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    if started.is_err() {
        desk::note("No browser could be opened here; open the address yourself.");
    }
}

fn secrets() -> Result<Secrets> {
    let hex = || -> Result<String> {
        let mut bytes = [0_u8; 32];
        fill(&mut bytes)?;
        Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
    };
    let mut code = [0_u8; 8];
    fill(&mut code)?;
    Ok(Secrets { token: hex()?, session: hex()?, code })
}

fn fill(bytes: &mut [u8]) -> Result<()> {
    getrandom::fill(bytes).map_err(|e| Error::failed("confirm", e, "this system gives no random numbers"))
}
