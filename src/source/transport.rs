//! Where a feed comes from: a network, a serial line, a recorded file, standard input.
//!
//! Each is followed on a thread of its own, which blocks, and hands over bytes as they come. What ends or breaks off in a
//! line has that line ended, so that the last one of a file counts and no two halves are taken for one.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::net::{TcpStream, ToSocketAddrs, UdpSocket};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::Fault;
use super::files::{STANDARD_INPUT, unreadable};

/// Where a feed comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// A server that sends it: host and port.
    Tcp(String),
    /// What is sent to this address: host and port.
    Udp(String),
    /// A serial line at so many bits a second.
    Serial(PathBuf, u32),
    /// A recorded file.
    File(PathBuf),
    /// Standard input.
    StandardInput,
}

/// The speed of a serial line where nobody says one: that of the standard.
pub const USUAL_BAUD: u32 = 4800;

const HELP: &str =
    "write `tcp://HOST:PORT`, `udp://ADDRESS:PORT`, the path of a serial line or of a recorded file, or `-`";

impl Address {
    /// Reads an address; `baud` is the speed of a serial line.
    ///
    /// Errors: it is no address, or names a path that is not there.
    pub fn parse(text: &str, baud: u32) -> Result<Self, Fault> {
        let fault = |message: String| Fault::new(message).help(HELP).within(text);
        if let Some((scheme, rest)) = text.split_once("://") {
            let port = rest.rsplit_once(':').and_then(|(host, port)| Some((host, port.parse::<u16>().ok()?)));
            let Some((host, _)) = port.filter(|(_, port)| *port > 0) else {
                return Err(fault(format!("`{rest}` names no port")));
            };
            return match (scheme, host) {
                ("tcp", "") => Err(fault("a server has a host: `tcp://HOST:PORT`".to_owned())),
                ("tcp", _) => Ok(Address::Tcp(rest.to_owned())),
                // Without an address every one of the machine's own is listened at.
                ("udp", "") => Ok(Address::Udp(format!("0.0.0.0{rest}"))),
                ("udp", _) => Ok(Address::Udp(rest.to_owned())),
                _ => Err(fault(format!("`{scheme}` is nothing a feed comes by"))),
            };
        }
        if text == STANDARD_INPUT {
            return Ok(Address::StandardInput);
        }
        let path = Path::new(text);
        let about = path.metadata().map_err(|error| unreadable(text, &error).help(HELP))?;
        if about.is_dir() {
            return Err(fault(format!("`{text}` is a folder")));
        }
        Ok(if is_a_line(&about) { Address::Serial(path.to_owned(), baud) } else { Address::File(path.to_owned()) })
    }

    /// Whether it ends by itself and is as old as what it holds.
    pub fn is_recorded(&self) -> bool {
        matches!(self, Address::File(_))
    }
}

#[cfg(unix)]
fn is_a_line(about: &std::fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    about.file_type().is_char_device()
}

#[cfg(not(unix))]
fn is_a_line(_: &std::fs::Metadata) -> bool {
    false
}

/// What is heard of a feed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Heard {
    /// It is connected.
    Connected,
    /// Bytes.
    Bytes(Vec<u8>),
    /// It can't be had, and why; where it may come back it is tried again.
    Lost(String),
    /// It has ended, and does not come back.
    Ended,
}

const CHUNK: usize = 16 * 1024;
/// How long a connection takes at most; how long to wait before the next try, at first and at most. Only a connection that
/// brought something makes the wait short again: a server that hangs up at once is not to be hammered.
const PATIENCE: Duration = Duration::from_secs(10);
const FIRST_WAIT: Duration = Duration::from_secs(1);
const LONGEST_WAIT: Duration = Duration::from_secs(30);

/// Follows a feed until it ends, or until nobody listens any more: until `hear` says no.
pub fn follow(address: &Address, hear: &mut dyn FnMut(Heard) -> bool) {
    let goes_on = match address {
        Address::File(path) => once(File::open(path), hear),
        Address::StandardInput => once(Ok(std::io::stdin()), hear),
        Address::Tcp(server) => again(hear, &mut || connect(server)),
        Address::Serial(path, baud) => again(hear, &mut || serial(path, *baud)),
        Address::Udp(local) => again(hear, &mut || UdpSocket::bind(local).map(Datagrams)),
    };
    if goes_on {
        // Where nobody listens any more there is nobody to tell.
        let _ = hear(Heard::Ended);
    }
}

/// Reads something to its end; whether anybody still listens.
fn once(from: std::io::Result<impl Read>, hear: &mut dyn FnMut(Heard) -> bool) -> bool {
    match from.map(|mut from| read(&mut from, hear)) {
        Ok(Over { stopped: true, .. }) => false,
        Ok(Over { why: None, .. }) => true,
        Ok(Over { why: Some(error), .. }) | Err(error) => hear(Heard::Lost(error.to_string())),
    }
}

/// Connects and reads, and after an end or an error again, ever more patiently; whether anybody still listens.
fn again<R: Read>(hear: &mut dyn FnMut(Heard) -> bool, connect: &mut dyn FnMut() -> std::io::Result<R>) -> bool {
    let mut wait = FIRST_WAIT;
    loop {
        let lost = match connect() {
            Ok(mut from) => {
                if !hear(Heard::Connected) {
                    return false;
                }
                let over = read(&mut from, hear);
                if over.stopped {
                    return false;
                }
                if over.heard_any {
                    wait = FIRST_WAIT;
                }
                over.why.map_or_else(|| "the other side has ended it".to_owned(), |error| error.to_string())
            }
            Err(error) => error.to_string(),
        };
        if !hear(Heard::Lost(lost)) {
            return false;
        }
        std::thread::sleep(wait);
        wait = (wait * 2).min(LONGEST_WAIT);
    }
}

/// How reading came to an end.
struct Over {
    /// Nobody listens any more.
    stopped: bool,
    /// Anything came at all.
    heard_any: bool,
    /// The error that ended it; none is its own end.
    why: Option<std::io::Error>,
}

/// Reads to the end, or until nobody listens.
fn read(from: &mut impl Read, hear: &mut dyn FnMut(Heard) -> bool) -> Over {
    let mut chunk = vec![0; CHUNK];
    let mut last = None;
    let why = loop {
        match from.read(&mut chunk) {
            Ok(0) => break None,
            Ok(length) => {
                let bytes = chunk.get(..length).unwrap_or_default().to_vec();
                last = bytes.last().copied();
                if !hear(Heard::Bytes(bytes)) {
                    return Over { stopped: true, heard_any: true, why: None };
                }
            }
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => break Some(error),
        }
    };
    let in_a_line = last.is_some_and(|byte| byte != b'\n');
    let stopped = in_a_line && !hear(Heard::Bytes(b"\n".to_vec()));
    Over { stopped, heard_any: last.is_some(), why }
}

/// A server that loses its power says no goodbye: a connection on which nothing comes is asked whether it is still there.
const ALIVE: socket2::TcpKeepalive = socket2::TcpKeepalive::new()
    .with_time(Duration::from_secs(10))
    .with_interval(Duration::from_secs(5))
    .with_retries(4);

fn connect(server: &str) -> std::io::Result<TcpStream> {
    let mut last = std::io::Error::new(ErrorKind::NotFound, "no such host");
    for address in server.to_socket_addrs()? {
        match TcpStream::connect_timeout(&address, PATIENCE) {
            Ok(stream) => {
                socket2::SockRef::from(&stream).set_tcp_keepalive(&ALIVE)?;
                return Ok(stream);
            }
            Err(error) => last = error,
        }
    }
    Err(last)
}

/// Datagrams one after the other; each ends its line, whether it says so or not.
struct Datagrams(UdpSocket);

impl Read for Datagrams {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let room = buffer.len().saturating_sub(1);
        let length = self.0.recv(buffer.get_mut(..room).unwrap_or_default())?;
        if let Some(end) = buffer.get_mut(length) {
            *end = b'\n';
        }
        Ok(length + 1)
    }
}

/// Opens a serial line, raw, at a speed.
#[cfg(unix)]
fn serial(path: &Path, baud: u32) -> std::io::Result<File> {
    use std::os::unix::fs::OpenOptionsExt;

    use rustix::fs::OFlags;
    use rustix::termios::{ControlModes, OptionalActions, isatty, tcgetattr, tcsetattr};
    // An instrument is not to become the terminal from which this is run.
    let flags = i32::try_from(OFlags::NOCTTY.bits()).unwrap_or_default();
    let line = std::fs::OpenOptions::new().read(true).custom_flags(flags).open(path)?;
    // What is no terminal, such as a test's or a driver's own device, is read as it is.
    if isatty(&line) {
        let mut settings = tcgetattr(&line)?;
        settings.make_raw();
        // Three wires are enough: nobody answers as a modem does.
        settings.control_modes |= ControlModes::CLOCAL | ControlModes::CREAD;
        settings.set_speed(baud)?;
        tcsetattr(&line, OptionalActions::Now, &settings)?;
    }
    Ok(line)
}

#[cfg(not(unix))]
fn serial(path: &Path, _: u32) -> std::io::Result<File> {
    File::open(path)
}
