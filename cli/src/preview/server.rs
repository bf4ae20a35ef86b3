//! Listening on this machine alone, with bounds on everything that a caller can make it hold.

use super::api;
use super::bakes::Bakes;
use super::crowd::{Crowd, Member};
use super::frames::Frames;
use super::guard::{Guard, HEADERS};
use super::live::{self, Live};
use super::patience::Patient;
use super::refusal::Refusal;
use super::shots::Shots;
use super::studio::Studio;
use super::unsaved::Unsaved;
use super::watch;
use super::worst::{self, Worst};
use crate::args::Pick;
use crate::failure::Failure;
use axum::Router;
use axum::body::Body;
use axum::http::{HeaderValue, Request, Response, StatusCode, Uri};
use axum::response::IntoResponse;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use rushlight::frame::Limits;
use std::convert::Infallible;
use std::future::poll_fn;
use std::io::ErrorKind;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::Poll;
use std::time::Duration;
use tokio::sync::Semaphore;

/// A request's head that takes longer is not waited for.
const HEAD_PATIENCE: Duration = Duration::from_secs(10);
/// Threads for work that takes long: one for cubes, one for frames that are dropped, one for live frames, the others for edits
/// and all else.
const THREADS: usize = 8;
/// Saves whose cubes wait for their errors to be measured; a cube that is saved beyond that goes without.
const MEASURING: usize = 8;
/// Files at once that come from pages.
const UPLOADS: usize = 4;
/// Bytes of a request's head, and its lines.
const MOST_HEAD: usize = 16 << 10;
const MOST_LINES: usize = 64;

/// What a server is started with.
pub(crate) struct Options<'o> {
    pub(crate) file: &'o Path,
    pub(crate) pick: &'o Pick,
    /// 0: any that is free.
    pub(crate) port: u16,
    pub(crate) frames: Vec<PathBuf>,
    pub(crate) live: Option<live::Settings>,
    /// What all frames may take together.
    pub(crate) limits: Limits,
    /// What keeps the token from one start to the next.
    pub(crate) token_file: Option<&'o Path>,
    /// Where the page's files are read instead of from the program.
    pub(crate) page_from: Option<PathBuf>,
    /// The shot to begin with.
    pub(crate) shot: Option<&'o str>,
    /// Where cubes of shots are baked when they are saved.
    pub(crate) out: Option<PathBuf>,
}

/// A server that listens, and answers once it runs.
pub(crate) struct Preview {
    listener: TcpListener,
    server: Arc<Server>,
}

/// What every request is answered from.
pub(super) struct Server {
    pub(super) studio: Studio,
    pub(super) bakes: Bakes,
    pub(super) frames: Frames,
    pub(super) live: Option<Arc<Live>>,
    pub(super) shots: Shots,
    pub(super) worst: Worst,
    pub(super) unsaved: Unsaved,
    pub(super) page_from: Option<PathBuf>,
    /// One cube at a time, on every core.
    pub(super) baking: Arc<Semaphore>,
    /// One core, for what no page waits for.
    pub(super) quiet: rayon::ThreadPool,
    /// Cubes whose errors are measured there, one after the other.
    pub(super) measuring: Arc<Semaphore>,
    /// Anything else that takes long.
    pub(super) working: Arc<Semaphore>,
    /// Files that come from pages, apart from all else: a slow one is waited for by those that come after it alone.
    pub(super) uploading: Arc<Semaphore>,
    /// One at a time stores how the page is.
    pub(super) storing: Arc<Semaphore>,
    /// One such file at a time is read.
    pub(super) reading: Arc<Semaphore>,
    /// A page has been there.
    pub(super) visited: Arc<AtomicBool>,
    guard: Guard,
}

impl Preview {
    pub(crate) fn new(options: Options<'_>) -> Result<Self, Failure> {
        let Options { file, pick, port, frames, live, limits, token_file, page_from, shot, out } = options;
        let studio = Studio::new(file, pick, shot)?;
        let shots = Shots::new(&studio, out);
        let frames = Frames::of(&frames, limits)?;
        let live = live.map(|live| Arc::new(Live::new(live, limits)));
        let listener = TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, port))).map_err(|e| {
            Failure::new(match e.kind() {
                ErrorKind::AddrInUse => {
                    format!("--port {port}: another program listens there: name another port, or none")
                }
                ErrorKind::PermissionDenied => {
                    format!("--port {port}: this user may not listen there: name one over 1023")
                }
                _ => format!("--port {port}: {e}"),
            })
        })?;
        listener.set_nonblocking(true)?;
        let guard = Guard::new(listener.local_addr()?.port(), token_file)?;
        let [baking, reading, storing, working, uploading, measuring] =
            [1, 1, 1, THREADS - 4, UPLOADS, MEASURING].map(|turns| Arc::new(Semaphore::new(turns)));
        let quiet = rayon::ThreadPoolBuilder::new().num_threads(1).build();
        let quiet = quiet.map_err(|e| Failure::new(format!("no thread for work in the background: {e}")))?;
        let visited = Arc::default();
        let (bakes, worst, unsaved) = (Bakes::default(), Worst::default(), Unsaved::default());
        let server = Server {
            studio,
            bakes,
            frames,
            live,
            shots,
            worst,
            unsaved,
            page_from,
            baking,
            quiet,
            measuring,
            working,
            uploading,
            storing,
            reading,
            visited,
            guard,
        };
        Ok(Self { listener, server: Arc::new(server) })
    }

    /// The address of the page, which no other program of this machine can guess.
    pub(crate) fn address(&self) -> String {
        self.server.guard.address()
    }

    /// Becomes true once a page has been there.
    pub(crate) fn visited(&self) -> Arc<AtomicBool> {
        self.server.visited.clone()
    }

    /// What it shows.
    pub(crate) fn title(&self) -> String {
        self.server.studio.title()
    }

    /// For when it is ended: keeps edits that were not saved, and says where.
    pub(crate) fn at_the_end(&self) -> impl FnOnce() -> Vec<String> + Send + use<> {
        let server = self.server.clone();
        move || [server.unsaved.at_the_end(&server.studio), server.shots.at_the_end()].concat()
    }

    /// What there is to say of where the corrections of the show's shots come.
    pub(crate) fn order_warnings(&self) -> impl FnOnce() -> Vec<String> + Send + use<> {
        let server = self.server.clone();
        move || server.studio.order().warnings.clone()
    }

    /// Answers until the program is ended.
    pub(crate) fn run(self) -> Result<(), Failure> {
        watch::start(Arc::downgrade(&self.server));
        worst::start(Arc::downgrade(&self.server));
        if let Some(live) = &self.server.live {
            live.start();
        }
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .enable_time()
            .max_blocking_threads(THREADS)
            .build()?;
        runtime.block_on(accept(self.listener, self.server))
    }
}

async fn accept(listener: TcpListener, server: Arc<Server>) -> Result<(), Failure> {
    let listener = tokio::net::TcpListener::from_std(listener)?;
    let router = TowerToHyperService::new(api::router(server.clone()));
    let crowd = Crowd::new();
    loop {
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            Err(_) => {
                // Such as no more open files: some will be closed.
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let (server, router, member) = (server.clone(), router.clone(), crowd.join());
        tokio::spawn(async move {
            let _ = stream.set_nodelay(true);
            let answer = service_fn(|request| answer(&server, &router, &member, request));
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD_PATIENCE)
                .max_buf_size(MOST_HEAD)
                .max_headers(MOST_LINES)
                .serve_connection(TokioIo::new(Patient::new(stream)), answer);
            let mut connection = pin!(connection);
            // A failure of one connection does not concern the others.
            let mut gone = pin!(member.has_to_go());
            let over = poll_fn(|context| match connection.as_mut().poll(context).is_ready() {
                false => gone.as_mut().poll(context),
                true => Poll::Ready(()),
            });
            over.await;
        });
    }
}

/// Checks a request, and hands on what it asks for.
async fn answer(
    server: &Server,
    router: &TowerToHyperService<Router>,
    member: &Member,
    mut request: Request<Incoming>,
) -> Result<Response<Body>, Infallible> {
    let checked = server.guard.check(request.method(), request.uri().path(), request.headers()).and_then(|rest| {
        let query = request.uri().query().map(|q| format!("?{q}")).unwrap_or_default();
        format!("/{rest}{query}").parse::<Uri>().map_err(|_| StatusCode::BAD_REQUEST)
    });
    let mut response = match checked {
        Ok(_) if !member.knows() => {
            Refusal::new(StatusCode::SERVICE_UNAVAILABLE, "too many pages at once").into_response()
        }
        Ok(uri) => {
            server.visited.store(true, Ordering::Relaxed);
            *request.uri_mut() = uri;
            match router.call(request).await {
                Ok(response) => response,
                Err(never) => match never {},
            }
        }
        Err(StatusCode::NOT_FOUND) => StatusCode::NOT_FOUND.into_response(),
        Err(status) => Refusal::new(status, "forbidden").into_response(),
    };
    for (name, value) in HEADERS {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    Ok(response)
}
