// A garment in the round: turned by finger, mouse and keys. Drawn from a packed shape (its layout stands in the
// README of the floor `report`); without WebGL the still in its place stays.
"use strict";
(() => {
  const read = (buffer) => {
    const bytes = new Uint8Array(buffer);
    const view = new DataView(buffer);
    let at = 4;
    const number = () => {
      let sum = 0;
      for (let times = 1; ; times *= 128) {
        const byte = bytes[at++];
        sum += (byte & 127) * times;
        if (byte < 128) return sum;
      }
    };
    const signed = () => { const n = number(); return n % 2 ? -(n + 1) / 2 : n / 2; };
    const real = () => { at += 4; return view.getFloat32(at - 4, true); };
    if (String.fromCharCode(...bytes.subarray(0, 4)) !== "RND1") throw new Error("another layout");
    const [colours, sections, parts] = [number(), number(), number()];
    const step = real();
    const low = [real(), real(), real()];
    const shades = Array.from({ length: colours }, () => [bytes[at++], bytes[at++], bytes[at++]]);
    const used = Array.from({ length: sections }, real);
    const mesh = () => {
      const [points, triangles] = [number(), number()];
      const where = new Float32Array(points * 3);
      for (let axis = 0; axis < 3; axis += 1) {
        for (let n = 0, sum = 0; n < points; n += 1) { sum += signed(); where[n * 3 + axis] = low[axis] + sum * step; }
      }
      const faces = new Uint32Array(triangles * 3);
      for (let n = 0; n < faces.length; n += 1) faces[n] = signed() + (n < 6 ? 0 : faces[n - 6]);
      return { at: where, faces };
    };
    const list = (count, next) => Array.from({ length: count }, next);
    return {
      shades, used,
      parts: list(parts, () => {
        const cloth = mesh();
        const count = cloth.at.length / 3;
        const paints = list(count, number);
        const section = list(count, number);
        let sum = 0;
        const along = list(count, () => (sum += signed()));
        const stretch = list(count, () => (bytes[at++] << 24) >> 24);
        return { ...cloth, paints, section, along, stretch, form: mesh() };
      }),
    };
  };

  const normals = ({ at, faces }) => {
    const all = new Float32Array(at.length);
    for (let n = 0; n < faces.length; n += 3) {
      const [a, b, c] = [faces[n] * 3, faces[n + 1] * 3, faces[n + 2] * 3];
      const [ux, uy, uz] = [at[b] - at[a], at[b + 1] - at[a + 1], at[b + 2] - at[a + 2]];
      const [vx, vy, vz] = [at[c] - at[a], at[c + 1] - at[a + 1], at[c + 2] - at[a + 2]];
      const own = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
      for (const corner of [a, b, c]) for (let axis = 0; axis < 3; axis += 1) all[corner + axis] += own[axis];
    }
    return all;
  };

  // Five steps, the tighter the darker: lightness alone tells them apart.
  const STEPS = [[15, [70, 34, 28]], [5, [138, 80, 58]], [-5, [196, 152, 110]], [-15, [226, 206, 172]], [-Infinity, [245, 240, 226]]];
  const stepped = (percent) => STEPS.find(([from]) => percent >= from)[1];
  const BARE = [176, 168, 156];

  // Where a section's yarn is of which colour: [[red, green, blue], mm] end to end, as it is knitted.
  const shadeAt = (line, mm) => {
    let end = 0;
    for (const [shade, length] of line) { end += length; if (mm < end) return shade; }
    return line.length ? line[line.length - 1][0] : BARE;
  };
  const colours = (shape, lines, stretch) => shape.parts.map((part) => {
    const all = new Uint8Array(part.at.length);
    for (let n = 0; n * 3 < all.length; n += 1) {
      const line = lines && part.section[n] ? lines[part.section[n] - 1] : null;
      const shade = stretch ? stepped(part.stretch[n])
        : line ? shadeAt(line, part.along[n])
        : part.paints[n] ? shape.shades[part.paints[n] - 1] : BARE;
      all.set(shade, n * 3);
    }
    return all;
  });

  // Turned about its middle, nearer parts a little larger; `fit` keeps it whole in a wide or a high frame.
  const VERTEX = `#version 300 es
in vec3 where, normal, shade; uniform mat3 turned; uniform vec3 middle; uniform float size, deep, back; uniform vec2 fit; out vec3 out_of, colour;
void main() { vec3 at = turned * ((where - middle) / size); float far = 1.0 - 0.2 * at.z / deep; out_of = turned * normal; colour = shade;
  gl_Position = vec4(at.xy * fit, -0.5 * (at.z - back) / deep, far); }`;
  const FRAGMENT = `#version 300 es
precision mediump float; in vec3 out_of, colour; uniform float cloth; out vec4 ink;
void main() { vec3 up = normalize(out_of); float side = 1.0; if (!gl_FrontFacing) { up = -up; side = 1.0 - 0.45 * cloth; }
  float light = 0.45 + 0.38 * max(dot(up, normalize(vec3(-0.35, 0.6, 0.75))), 0.0) + 0.2 * max(up.z, 0.0);
  ink = vec4(min(colour * light * side, 1.0), 1.0); }`;

  const drawing = (canvas) => {
    const gl = canvas.getContext("webgl2", { antialias: true, premultipliedAlpha: false });
    if (!gl) return null;
    const program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) return null;
    gl.useProgram(program);
    gl.enable(gl.DEPTH_TEST);
    const put = Object.fromEntries(["turned", "middle", "size", "deep", "back", "fit", "cloth"].map((name) => [name, gl.getUniformLocation(program, name)]));
    const slots = ["where", "normal", "shade"].map((name) => gl.getAttribLocation(program, name));
    const buffer = (kind, data) => { const own = gl.createBuffer(); gl.bindBuffer(kind, own); gl.bufferData(kind, data, gl.STATIC_DRAW); return own; };
    const lay = (mesh, shades) => ({
      buffers: [mesh.at, normals(mesh), shades].map((data) => buffer(gl.ARRAY_BUFFER, data)),
      faces: buffer(gl.ELEMENT_ARRAY_BUFFER, mesh.faces), count: mesh.faces.length,
    });
    const box = (meshes) => {
      const [low, high] = [[Infinity, Infinity, Infinity], [-Infinity, -Infinity, -Infinity]];
      for (const { at } of meshes) for (let n = 0; n < at.length; n += 1) {
        low[n % 3] = Math.min(low[n % 3], at[n]);
        high[n % 3] = Math.max(high[n % 3], at[n]);
      }
      return { middle: low.map((from, axis) => (from + high[axis]) / 2), half: Math.hypot(...low.map((from, axis) => high[axis] - from)) / 2 };
    };
    let cloths = [], forms = [], middle = [0, 0, 0], size = 1, deep = 1;
    return {
      put(shape, shades) {
        for (const { buffers, faces } of [...cloths, ...forms]) for (const own of [...buffers, faces]) gl.deleteBuffer(own);
        const worn = shape.parts.map(({ form }) => form).filter(({ faces }) => faces.length);
        const own = box(shape.parts);
        const whole = box([...shape.parts, ...worn]);
        middle = own.middle;
        size = own.half || 1;
        deep = Math.max(1, 2 * whole.half / size);
        cloths = shape.parts.map((part, nth) => lay(part, shades[nth]));
        forms = worn.map((form) => lay(form, new Uint8Array(form.at.length).fill(216)));
      },
      paint(shades) {
        cloths.forEach(({ buffers }, nth) => { gl.bindBuffer(gl.ARRAY_BUFFER, buffers[2]); gl.bufferData(gl.ARRAY_BUFFER, shades[nth], gl.STATIC_DRAW); });
      },
      draw({ turn, tilt, near }) {
        const fine = Math.min(devicePixelRatio, 2);
        const [wide, high] = [canvas.clientWidth, canvas.clientHeight].map((px) => Math.max(1, Math.round(px * fine)));
        if (canvas.width !== wide || canvas.height !== high) { canvas.width = wide; canvas.height = high; }
        gl.viewport(0, 0, wide, high);
        gl.clearColor(0, 0, 0, 0);
        gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
        const [s, c, p, q] = [Math.sin(turn), Math.cos(turn), Math.sin(tilt), Math.cos(tilt)];
        const least = Math.min(wide, high);
        // By column: about the upright first, then towards whoever looks.
        gl.uniformMatrix3fv(put.turned, false, [c, s * p, -s * q, 0, q, p, s, -c * p, c * q]);
        gl.uniform3fv(put.middle, middle);
        gl.uniform1f(put.size, size);
        gl.uniform1f(put.deep, deep);
        gl.uniform2f(put.fit, near * least / wide, near * least / high);
        for (const [group, cloth] of [[forms, 0], [cloths, 1]]) {
          gl.uniform1f(put.cloth, cloth);
          // Cloth lies on its form: what would show through between its points is no hole. The far side of the
          // cloth is farther off than that.
          gl.uniform1f(put.back, cloth ? 0 : 0.1);
          for (const { buffers, faces, count } of group) {
            buffers.forEach((own, nth) => {
              gl.bindBuffer(gl.ARRAY_BUFFER, own);
              gl.enableVertexAttribArray(slots[nth]);
              if (nth < 2) gl.vertexAttribPointer(slots[nth], 3, gl.FLOAT, false, 0, 0);
              else gl.vertexAttribPointer(slots[nth], 3, gl.UNSIGNED_BYTE, true, 0, 0);
            });
            gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, faces);
            gl.drawElements(gl.TRIANGLES, count, gl.UNSIGNED_INT, 0);
          }
        }
      },
    };
  };

  // What was fetched, by its address: a page that shows the same shape again, in other colours, asks for nothing.
  const known = new Map();
  let leaving = new AbortController();
  const fetched = (address) => {
    if (!known.has(address)) {
      // What nobody looks at any more is not waited for.
      leaving.abort();
      leaving = new AbortController();
      const asked = fetch(address, { signal: leaving.signal }).then(async (answer) => {
        if (!answer.ok) throw new Error(`the server answers ${answer.status}`);
        return read(await answer.arrayBuffer());
      });
      asked.catch(() => known.delete(address));
      if (known.size > 8) known.delete(known.keys().next().value);
      known.set(address, asked);
    }
    return known.get(address);
  };

  // How a garment was turned stays when the page shows it anew.
  const hold = { turn: 0.5, tilt: 0.25, near: 0.95, pose: "worn", stretch: false };
  const TURNS = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, 0.15], ArrowDown: [0, -0.15] };
  const between = (low, of, high) => Math.max(low, Math.min(high, of));

  const show = (figure) => {
    const canvas = document.createElement("canvas");
    const drawn = drawing(canvas);
    if (!drawn) {
      const still = new Image();
      still.src = figure.dataset.still;
      still.alt = figure.dataset.words;
      figure.prepend(still);
      figure.dataset.live = "still";
      return;
    }
    figure.dataset.live = "waiting";
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "img");
    const name = () => canvas.setAttribute("aria-label", `${figure.dataset.words} Arrow keys turn it, plus and minus bring it nearer and farther.`);
    name();
    let lines = JSON.parse(figure.dataset.lines || "null");
    let shape = null, asked = false, from = figure.dataset.round;
    const draw = () => {
      if (asked) return;
      asked = true;
      requestAnimationFrame(() => {
        asked = false;
        if (!shape || !canvas.isConnected) return;
        drawn.draw(hold);
        canvas.dataset.frames = Number(canvas.dataset.frames ?? 0) + 1;
      });
    };
    const turn = (right, up) => {
      hold.turn += right;
      hold.tilt = between(-1.57, hold.tilt + up, 1.57);
      draw();
    };
    const nearer = (times) => { hold.near = between(0.5, hold.near * times, 6); draw(); };
    canvas.addEventListener("keydown", (event) => {
      const way = TURNS[event.key];
      if (way) turn(...way);
      else if (event.key === "+" || event.key === "=") nearer(1.15);
      else if (event.key === "-") nearer(1 / 1.15);
      else return;
      event.preventDefault();
    });
    const fingers = new Map();
    canvas.addEventListener("pointerdown", (event) => { canvas.setPointerCapture(event.pointerId); fingers.set(event.pointerId, [event.clientX, event.clientY]); });
    canvas.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const here = [event.clientX, event.clientY];
      if (fingers.size === 2) {
        const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
        const apart = (at) => Math.hypot(at[0] - other[0], at[1] - other[1]) || 1;
        nearer(apart(here) / apart(before));
      } else turn((here[0] - before[0]) / 120, (here[1] - before[1]) / 120);
      fingers.set(event.pointerId, here);
    });
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => fingers.delete(event.pointerId));
    canvas.addEventListener("wheel", (event) => {
      // The page scrolls as it does elsewhere; with Ctrl, as a pinch on a touchpad is told, it comes nearer.
      if (!event.ctrlKey) return;
      event.preventDefault();
      nearer(Math.exp(-event.deltaY / 300));
    }, { passive: false });
    new ResizeObserver(draw).observe(canvas);

    const told = figure.querySelector(".stretch-told");
    const take = async (detail) => {
      const asks = `${figure.dataset.round}&pose=${hold.pose}&detail=${detail}`;
      const found = await fetched(asks);
      if (asks !== `${figure.dataset.round}&pose=${hold.pose}&detail=${detail}`) return;
      shape = found;
      drawn.put(shape, colours(shape, lines, hold.stretch));
      if (!canvas.isConnected) figure.prepend(canvas);
      figure.dataset.live = detail;
      draw();
    };
    let tries = 0;
    const load = async () => {
      tries += 1;
      const own = tries;
      try {
        await take("coarse");
        // Finer where nothing else is asked for meanwhile.
        await new Promise((done) => setTimeout(done, 400));
        if (own === tries) await take("full");
      } catch (error) {
        if (own !== tries) return;
        figure.dataset.live = "none";
        figure.dataset.why = error.message;
      }
    };
    // The page shows another run: the same shape in other colours, or another one.
    let rest = 0;
    document.addEventListener("oddments:run", ({ detail }) => {
      if (!figure.isConnected) return;
      lines = JSON.parse(figure.dataset.lines || "null");
      name();
      if (figure.dataset.round !== from) {
        from = figure.dataset.round;
        figure.dataset.live = "old";
        // A shape takes as long as many sizes: it comes when what is slid lies still.
        tries += 1;
        clearTimeout(rest);
        rest = setTimeout(load, detail.sliding ? 350 : 0);
      } else if (shape) {
        drawn.paint(colours(shape, lines, hold.stretch));
        draw();
      }
    });
    const tools = figure.querySelector(".round-tools");
    if (tools) {
      tools.hidden = false;
      for (const choice of tools.querySelectorAll("[data-pose]")) {
        const say = () => choice.setAttribute("aria-pressed", String(choice.dataset.pose === hold.pose));
        say();
        choice.addEventListener("click", () => {
          hold.pose = choice.dataset.pose;
          for (const other of tools.querySelectorAll("[data-pose]")) other.setAttribute("aria-pressed", String(other === choice));
          load();
        });
      }
      const map = tools.querySelector("[data-stretch]");
      const say = () => { map.setAttribute("aria-pressed", String(hold.stretch)); if (told) told.hidden = !hold.stretch; };
      if (map) {
        say();
        map.addEventListener("click", () => {
          hold.stretch = !hold.stretch;
          say();
          if (shape) { drawn.paint(colours(shape, lines, hold.stretch)); draw(); }
        });
      }
    }
    load();
  };

  // Fetched for when it comes near the screen; where the page comes to show it only later, then.
  let watched = null;
  const watch = () => {
    const figure = document.getElementById("round");
    if (!figure || !figure.dataset.round || figure === watched) return;
    watched = figure;
    const near = new IntersectionObserver((entries) => {
      if (!entries.some((entry) => entry.isIntersecting)) return;
      near.disconnect();
      show(figure);
    }, { rootMargin: "200px" });
    near.observe(figure);
  };
  watch();
  document.addEventListener("oddments:run", watch);
})();
