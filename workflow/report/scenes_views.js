// One scene on the page: drawn when it comes near the screen, turned, zoomed and changed.

const QUIET = { visible: false, showspikes: false, tickmode: "array", tickvals: [], title: { text: "" }, autorange: false };
// The library would offer to send the scene to its makers: no buttons of its own, and no address.
const SETTINGS = { displayModeBar: false, displaylogo: false, showSendToCloud: false, plotlyServerURL: "", doubleClick: false };
const FONT = { family: "DejaVu Sans, Verdana, Arial, sans-serif", size: 13, color: "#1c1c1c" };
const STEP = Math.PI / 18; // of an arrow key
const ZOOM = 1.15;
const NARROW = 520; // pixels

const byId = (id) => document.getElementById(id);

function library() {
  if (!window.Plotly) {
    const script = document.createElement("script");
    script.textContent = byId("scene-library").textContent;
    document.head.append(script);
  }
  return window.Plotly;
}

// `content()` gives bodies, directions and annotations of what is shown now; texts and colours beside
// it need room on one side, to the right (1) or left (-1).
class View {
  constructor(name, content, first, side = 1) {
    Object.assign(this, { name, content, first, side, view: null, drawn: null });
    this.root = byId(`${name}-scene`);
    this.live = this.root.querySelector(".scene-live");
    this.canvas = byId(`${name}-canvas`);
    this.corner = svgElement("svg", { class: "scene-compass", viewBox: "-84 -46 168 92", "aria-hidden": "true" });
    this.listen();
    this.show(true);
    const near = new IntersectionObserver((entries) => {
      if (entries.some((entry) => entry.isIntersecting)) this.ready();
    }, { rootMargin: "300px 0px" });
    near.observe(this.canvas);
  }

  show(live) {
    this.live.hidden = !live;
    this.root.classList.toggle("is-live", live);
  }

  // Draws the scene once; where that cannot be done the picture comes back. Tells which.
  ready() {
    return (this.drawn ??= this.draw().then(() => true, (error) => {
      this.show(false);
      performance.mark(`scene-${this.name}-failed`, { detail: String(error) });
      return false;
    }));
  }

  async draw() {
    performance.mark(`scene-${this.name}-begun`);
    if (!document.createElement("canvas").getContext("webgl")) throw new Error("this browser lacks WebGL");
    this.plotly = library();
    performance.mark(`scene-${this.name}-library`);
    await this.replace();
    this.canvas.append(this.corner);
    for (const event of ["plotly_relayouting", "plotly_relayout"]) this.canvas.on(event, () => this.turnCompass());
    new ResizeObserver(() => this.refit()).observe(this.canvas);
    this.mark(`scene-${this.name}-drawn`);
  }

  // Once it is painted: the library paints in the next frame, before this.
  mark(name = "scene-drawn") {
    requestAnimationFrame(() => performance.mark(name, { detail: this.name }));
  }

  // All bodies anew, seen as before or as at first.
  async replace() {
    const { bodies, directions, annotations } = this.content();
    Object.assign(this, { bodies, directions, labels: annotations.filter(({ name }) => name === "tooth") });
    this.box = boxOf(bodies);
    this.view ??= namedView(this.first, directions);
    const range = (axis) => [this.box.middle[axis] - this.box.half, this.box.middle[axis] + this.box.half];
    const fit = this.fit();
    const layout = {
      margin: { l: 0, r: 0, t: 0, b: 0 }, font: FONT, paper_bgcolor: "rgba(0,0,0,0)", showlegend: false, dragmode: "orbit",
      hoverlabel: { align: "left", bgcolor: "#ffffff", bordercolor: "#1c1c1c", font: FONT },
      scene: {
        xaxis: { ...QUIET, range: range(0) }, yaxis: { ...QUIET, range: range(1) }, zaxis: { ...QUIET, range: range(2) },
        bgcolor: "rgba(0,0,0,0)", dragmode: "orbit", hovermode: "closest", annotations,
        camera: fit["scene.camera"], aspectmode: "manual", aspectratio: fit["scene.aspectratio"],
      },
    };
    await this.plotly.react(this.canvas, bodies.map(({ trace }) => trace), layout, SETTINGS);
    this.turnCompass();
  }

  fit() {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    this.fitted = { width, height };
    const labels = { start: ["x", "y", "z"].map((axis) => this.labels.map((label) => label[axis])) };
    const [own, other, bottom] = width < NARROW ? [114, 16, 72] : [120, 40, 26]; // the compass needs room
    const [left, right] = this.side > 0 ? [other, own] : [own, other];
    return filling([...this.bodies, labels], this.box, this.view, { width, height, left, right, top: 20, bottom });
  }

  get camera() {
    return this.canvas._fullLayout.scene._scene.getCamera();
  }

  turnCompass() {
    this.corner.replaceChildren(...compass(this.directions, this.camera));
  }

  async look(name) {
    if (!(await this.ready())) return;
    this.view = namedView(name, this.directions);
    await this.plotly.relayout(this.canvas, this.fit());
    this.mark();
  }

  async refit() {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (!width || (width === this.fitted.width && height === this.fitted.height)) return;
    this.view = viewOf(this.camera);
    this.plotly.Plots.resize(this.canvas);
    await this.plotly.relayout(this.canvas, this.fit());
    this.mark();
  }

  async turn(right, up) {
    if (!(await this.ready())) return;
    await this.plotly.relayout(this.canvas, { "scene.camera": turned(this.camera, right, up) });
    this.mark();
  }

  async zoom(factor) {
    if (!(await this.ready())) return;
    const { x } = this.canvas._fullLayout.scene.aspectratio;
    const { center, eye, up, projection } = this.camera;
    const centre = scaled(asVector(center), factor);
    const camera = { center: asPoint(centre), eye: asPoint(sum(centre, asVector(eye), scaled(asVector(center), -1))), up, projection };
    const ratio = { x: x * factor, y: x * factor, z: x * factor };
    await this.plotly.relayout(this.canvas, { "scene.aspectratio": ratio, "scene.camera": camera });
    this.mark();
  }

  // Changes how those bodies look that are wanted.
  async restyle(change, wanted) {
    if (!(await this.ready())) return;
    const places = this.bodies.flatMap((each, place) => (wanted(each) ? [place] : []));
    await this.plotly.restyle(this.canvas, change, places);
    this.mark();
  }

  toggle(group, shown) {
    return this.restyle({ visible: shown }, (each) => each.group === group);
  }

  // Every body that moves, at so many times its motion.
  async move(factor) {
    if (!(await this.ready())) return;
    const places = this.bodies.flatMap((each, place) => (each.motion ? [place] : []));
    const after = places.map((place) => movedBy(this.bodies[place].motion, factor, this.bodies[place].start));
    const [x, y, z] = [0, 1, 2].map((axis) => after.map((coordinate) => coordinate[axis]));
    await this.plotly.restyle(this.canvas, { x, y, z }, places);
    this.mark();
  }

  async annotate(annotations) {
    if (!(await this.ready())) return;
    await this.plotly.relayout(this.canvas, { "scene.annotations": annotations });
    this.mark();
  }

  listen() {
    const keys = {
      ArrowLeft: () => this.turn(-STEP, 0), ArrowRight: () => this.turn(STEP, 0), ArrowUp: () => this.turn(0, -STEP),
      ArrowDown: () => this.turn(0, STEP), "+": () => this.zoom(ZOOM), "-": () => this.zoom(1 / ZOOM),
    };
    this.canvas.addEventListener("keydown", (event) => {
      if (!keys[event.key] || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      keys[event.key]();
    });
    this.canvas.addEventListener("pointerdown", () => this.canvas.focus({ preventScroll: true }));
    // Who scrolls past wants the page to move; only who works in the scene wants it to zoom.
    this.canvas.addEventListener("wheel", (event) => {
      if (document.activeElement !== this.canvas) event.stopPropagation();
    }, { capture: true });
    for (const button of this.root.querySelectorAll("[data-view]")) {
      button.addEventListener("click", () => this.look(button.dataset.view));
    }
  }
}
