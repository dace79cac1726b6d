//! Decisions sent to the confirm page until it is killed.

use std::io::{BufRead, BufReader};
use std::process::Stdio;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use broodhue::book::{photos, regions};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use serde_json::json;

use crate::deeds::CLASSES;
use crate::http::raw;
use crate::world::{World, program};

/// How long decisions are sent to a page that is not killed.
const LEFT_ALONE: Duration = Duration::from_millis(400);

/// A decision is in the book once the page has answered.
pub(crate) fn decide(world: &mut World, after: Option<Duration>, rng: &mut ChaCha8Rng) {
    let hash = world.photo();
    let ids: Vec<(u32, i64)> = {
        let book = world.book();
        let photo = photos::find(&book.read(), &hash).unwrap().unwrap();
        regions::of_photo(&book.read(), &photo).unwrap().iter().map(|r| (r.n, r.id.number())).collect()
    };
    let folder = world.dir().parent().unwrap().to_owned();
    let args = ["confirm", "--no-browser", "--book", "b"];
    let mut child = program(&folder, &args).stdout(Stdio::piped()).spawn().unwrap();
    let mut address = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut address).unwrap();
    let (port, path) = address.trim().trim_start_matches("http://127.0.0.1:").split_once('/').unwrap();
    let (port, host) = (port.parse().unwrap(), format!("127.0.0.1:{port}"));
    let entered = raw(port, "GET", &format!("/{path}"), &[("Host", &host)], &[]);
    let line = entered.head.lines().find(|l| l.to_lowercase().starts_with("set-cookie:")).unwrap();
    let cookie = line.split(':').nth(1).unwrap().split(';').next().unwrap().trim().to_owned();

    let child = Arc::new(Mutex::new(child));
    let wait = after.unwrap_or(LEFT_ALONE);
    let killer = std::thread::spawn({
        let child = Arc::clone(&child);
        move || {
            std::thread::sleep(wait);
            child.lock().unwrap().kill().unwrap();
        }
    });
    let (origin, start) = (format!("http://{host}"), Instant::now());
    while start.elapsed() < wait + Duration::from_secs(5) {
        let (n, id) = ids[rng.random_range(0..ids.len())];
        let class = CLASSES[rng.random_range(0..CLASSES.len())];
        let said = json!({ "brood": "K1-1", "sitting": "2026-05-02", "photo": hash, "blind": false, "by": "Nell",
                           "region": id, "axis": "red-body", "class": class });
        let headers = [("Host", host.as_str()), ("Origin", &origin), ("Cookie", &cookie)];
        let json = [&headers[..], &[("Content-Type", "application/json")]].concat();
        let answer = raw(port, "POST", "/decide", &json, said.to_string().as_bytes());
        let owed = world.classes.get_mut(&n).unwrap();
        if answer.status != 200 {
            assert_eq!(answer.status, 0, "{}", answer.body);
            owed.maybe.insert(class.to_owned());
            break;
        }
        owed.sure = Some(class.to_owned());
        owed.maybe.clear();
        world.acknowledged += 1;
    }
    killer.join().unwrap();
    (world.was_killed, world.ran) = (true, wait);
    child.lock().unwrap().wait().unwrap();
}
