//! The static file server of the tests and of `./evenhand serve`.

use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::thread::JoinHandle;

use axum::Router;
use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::{Next, from_fn, map_response};
use axum::response::Response;
use tokio::sync::oneshot;
use tower_http::services::ServeDir;

/// A folder to be served on 127.0.0.1, as a static host on the web would serve it.
///
/// ```
/// use evenhand_tests::Site;
///
/// let folder = env!("CARGO_MANIFEST_DIR");
/// let site = Site::of(folder).beneath("pianos/grands").start()?;
/// assert!(site.url().ends_with("/pianos/grands/"));
/// # Ok::<(), std::io::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Site {
    folder: PathBuf,
    path: String,
    port: u16,
    headers: Vec<(HeaderName, HeaderValue)>,
}

impl Site {
    /// The files in `folder`, at the root of any free port until said otherwise.
    pub fn of(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
            path: "/".to_owned(),
            port: 0,
            headers: Vec::new(),
        }
    }

    /// Sends these headers with each file, as lines of `Name: value`.
    ///
    /// # Panics
    /// A line is no header.
    #[must_use]
    pub fn sending(mut self, lines: &str) -> Self {
        let header = |line: &str| {
            let (name, value) = line.split_once(": ").expect("a name and a value");
            let name = HeaderName::try_from(name.trim()).expect("a name of a header");
            (name, HeaderValue::try_from(value).expect("a value"))
        };
        self.headers = lines.lines().map(header).collect();
        self
    }

    /// Serves the folder beneath a path such as `pianos/grands`, where many static hosts put a project.
    #[must_use]
    pub fn beneath(mut self, path: &str) -> Self {
        self.path = match path.trim_matches('/') {
            "" => "/".to_owned(),
            path => format!("/{path}/"),
        };
        self
    }

    /// Serves on this port; 0 is any free one.
    #[must_use]
    pub fn port(mut self, port: u16) -> Self {
        self.port = port;
        self
    }

    /// Serves in the background until the answer is dropped or stopped.
    ///
    /// # Errors
    /// The folder does not exist, or the port is taken.
    pub fn start(self) -> io::Result<RunningSite> {
        if !self.folder.is_dir() {
            let sentence = format!("there is no folder {}", self.folder.display());
            return Err(io::Error::new(io::ErrorKind::NotFound, sentence));
        }
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, self.port))?;
        listener.set_nonblocking(true)?;
        let address = listener.local_addr()?;
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .build()?;
        let (stop, stopped) = oneshot::channel();
        let headers = self.headers;
        let router =
            router(self.folder, &self.path).layer(map_response(move |mut response: Response| {
                response.headers_mut().extend(headers.clone());
                std::future::ready(response)
            }));
        let thread = std::thread::spawn(move || {
            runtime.block_on(async {
                let listener = tokio::net::TcpListener::from_std(listener)?;
                tokio::select! {
                    served = axum::serve(listener, router) => served,
                    _ = stopped => Ok(()),
                }
            })
            // The runtime ends here, and with it every connection that is still open.
        });
        Ok(RunningSite {
            address,
            path: self.path,
            stop: Some(stop),
            thread: Some(thread),
        })
    }
}

/// A [`Site`] being served. Dropping it ends the server and every open connection.
#[derive(Debug)]
pub struct RunningSite {
    address: SocketAddr,
    path: String,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<io::Result<()>>>,
}

impl RunningSite {
    /// The address of the folder, with a slash at the end.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}{}", self.address, self.path)
    }

    /// The port, to serve another folder at the same address later.
    #[must_use]
    pub fn port(&self) -> u16 {
        self.address.port()
    }

    /// Ends the server: from now on a browser finds nobody at this address.
    pub fn stop(self) {
        drop(self);
    }

    /// Serves until the process is ended.
    ///
    /// # Errors
    /// The server failed.
    pub fn wait(mut self) -> io::Result<()> {
        match self.thread.take().map(JoinHandle::join) {
            Some(Ok(served)) => served,
            _ => Err(io::Error::other("the server ended unexpectedly")),
        }
    }
}

impl Drop for RunningSite {
    fn drop(&mut self) {
        if let Some(stop) = self.stop.take() {
            // An error says that the server has ended already.
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn router(folder: PathBuf, path: &str) -> Router {
    let files = ServeDir::new(folder);
    let router = match path {
        "/" => Router::new().fallback_service(files),
        path => Router::new().nest_service(path, files),
    };
    router.layer(from_fn(say_how_long_to_keep))
}

/// A file with a hash in its name never changes; every other one is asked for again, so that an update is seen.
async fn say_how_long_to_keep(request: Request, next: Next) -> Response {
    let is_hashed = has_hashed_name(request.uri().path());
    let mut response = next.run(request).await;
    // That a file is not there may change.
    let keep = match is_hashed && response.status().is_success() {
        true => "public, max-age=31536000, immutable",
        false => "no-cache",
    };
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    response
}

/// Whether a path ends as the build tool names its files: `evenhand-app-0123456789abcdef_bg.wasm`.
fn has_hashed_name(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or_default();
    // A hash of 64 bits, written without zeros in front: hardly ever fewer than twelve digits.
    name.split(['-', '_', '.']).any(|part| {
        (12..=16).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_hexdigit())
    })
}

#[cfg(test)]
mod tests {
    use std::io::{Read, Write};
    use std::net::TcpStream;

    use super::*;

    /// What the server answers to a plain request: status line, headers and body.
    fn get(site: &RunningSite, path: &str) -> io::Result<String> {
        let mut stream = TcpStream::connect(site.address)?;
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
        )?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer)?;
        Ok(answer.to_lowercase())
    }

    fn folder() -> tempfile::TempDir {
        let folder = tempfile::tempdir().expect("a folder");
        let files = [
            "index.html",
            "sw.js",
            "app.webmanifest",
            "sample.json",
            "evenhand-app-0123456789abcdef_bg.wasm",
            "boot-44e179585263bfe.js",
        ];
        for name in files {
            std::fs::write(folder.path().join(name), name).expect("a file");
        }
        folder
    }

    #[test]
    fn every_kind_of_file_has_its_media_type() {
        let folder = folder();
        let site = Site::of(folder.path()).start().expect("a server");
        let expected = [
            ("/", "content-type: text/html"),
            ("/sw.js", "content-type: text/javascript"),
            (
                "/app.webmanifest",
                "content-type: application/manifest+json",
            ),
            ("/sample.json", "content-type: application/json"),
            (
                "/evenhand-app-0123456789abcdef_bg.wasm",
                "content-type: application/wasm",
            ),
        ];
        for (path, media_type) in expected {
            let answer = get(&site, path).expect("an answer");
            assert!(answer.starts_with("http/1.1 200"), "{path}: {answer}");
            assert!(answer.contains(media_type), "{path}: {answer}");
        }
    }

    #[test]
    fn only_files_with_a_hash_in_their_name_may_be_kept() {
        let folder = folder();
        let site = Site::of(folder.path()).start().expect("a server");
        for path in ["/", "/sw.js", "/app.webmanifest"] {
            let answer = get(&site, path).expect("an answer");
            assert!(
                answer.contains("cache-control: no-cache"),
                "{path}: {answer}"
            );
        }
        for path in [
            "/evenhand-app-0123456789abcdef_bg.wasm",
            "/boot-44e179585263bfe.js",
        ] {
            let answer = get(&site, path).expect("an answer");
            assert!(answer.contains("immutable"), "{path}: {answer}");
        }
    }

    #[test]
    fn a_folder_can_be_served_beneath_a_path() {
        let folder = folder();
        let site = Site::of(folder.path())
            .beneath("/pianos/grands/")
            .start()
            .expect("a server");
        let inside = get(&site, "/pianos/grands/sw.js").expect("an answer");
        let outside = get(&site, "/sw.js").expect("an answer");
        assert!(inside.starts_with("http/1.1 200"), "{inside}");
        assert!(outside.starts_with("http/1.1 404"), "{outside}");
    }

    #[test]
    fn a_stopped_server_leaves_its_port_to_the_next() {
        let folder = folder();
        let first = Site::of(folder.path()).start().expect("a server");
        let (port, address) = (first.port(), first.address);
        first.stop();
        assert!(TcpStream::connect(address).is_err());
        let second = Site::of(folder.path()).port(port).start();
        assert_eq!(second.expect("a server").port(), port);
    }

    #[test]
    fn a_taken_port_and_a_missing_folder_are_errors() {
        let folder = folder();
        let site = Site::of(folder.path()).start().expect("a server");
        let taken = Site::of(folder.path()).port(site.port()).start();
        assert_eq!(
            taken.expect_err("an error").kind(),
            io::ErrorKind::AddrInUse
        );
        let missing = Site::of(folder.path().join("nothing")).start();
        assert_eq!(
            missing.expect_err("an error").kind(),
            io::ErrorKind::NotFound
        );
    }
}
