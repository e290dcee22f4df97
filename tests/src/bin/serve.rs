//! Serves a folder on 127.0.0.1 until it is ended: `serve FOLDER [--port N]`.

use std::io;
use std::process::ExitCode;

use evenhand_tests::Site;

const USAGE: &str = "usage: serve FOLDER [--port N]";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(site) = site(&arguments) else {
        eprintln!("{USAGE}");
        return ExitCode::FAILURE;
    };
    match serve(site) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if error.kind() == io::ErrorKind::AddrInUse => {
            eprintln!(
                "serve: this port is taken. End the other program, or choose another port: --port N"
            );
            ExitCode::FAILURE
        }
        Err(error) => {
            eprintln!("serve: {error}");
            ExitCode::FAILURE
        }
    }
}

fn site(arguments: &[String]) -> Option<Site> {
    match arguments {
        [folder] => Some(Site::of(folder).port(8080)),
        [folder, option, port] if option == "--port" => {
            Some(Site::of(folder).port(port.parse().ok()?))
        }
        _ => None,
    }
}

fn serve(site: Site) -> io::Result<()> {
    let site = site.start()?;
    println!(
        "\nEvenhand is served at {}  (Ctrl-C ends the server)",
        site.url()
    );
    site.wait()
}
