// The programs that run on the graphics processor (GLSL ES 3.00).

const SURFACE_VERTEX = `#version 300 es
in vec3 place;
in vec2 octahedral;
in vec2 figure;
uniform vec3 low, extent;
uniform mat4 toClip;
out vec3 at;
out vec3 normal;
out vec2 value;
void main() {
  at = low + place * extent;
  vec2 e = (octahedral - 1.0) / 32767.0 - 1.0;
  float z = 1.0 - abs(e.x) - abs(e.y);
  float fold = max(-z, 0.0);
  vec3 n = vec3(e.x - (e.x < 0.0 ? -fold : fold), e.y - (e.y < 0.0 ? -fold : fold), z);
  // (0, 0) stands for no normal.
  normal = octahedral.x == 0.0 ? vec3(0) : normalize(n);
  value = figure;
  gl_Position = toClip * vec4(at, 1);
}`;

const SURFACE_PIXEL = `#version 300 es
precision highp float;
in vec3 at;
in vec3 normal;
in vec2 value;
uniform vec3 eye, back, right, up;
uniform bool parallel, coloured, striped, insideOut;
uniform vec2 limits;
uniform vec3 material;
uniform float stripeCount, stripeSlide, stripeTurn;
uniform sampler2D palette;
out vec4 colour;

// The share of a square wave of period 1 that is light, up to x.
float lightUpTo(float x) {
  return 0.5 * floor(x) + max(fract(x) - 0.5, 0.0);
}

// Light and dark lines on a far ball about the form, seen in the surface as in a mirror. The
// wave is averaged over the pixel's own width of it.
float stripes(vec3 mirrored) {
  vec3 axis = cos(stripeTurn) * up + sin(stripeTurn) * right;
  float t = acos(clamp(dot(mirrored, axis), -0.99999, 0.99999)) / 3.14159265 * stripeCount + stripeSlide;
  float w = clamp(fwidth(t), 1e-4, 4.0);
  float sharp = (lightUpTo(t + 0.5 * w) - lightUpTo(t - 0.5 * w)) / w;
  return mix(sharp, 0.5, smoothstep(0.6, 1.6, w));
}

void main() {
  vec3 toEye = parallel ? back : normalize(eye - at);
  vec3 facet = cross(dFdx(at), dFdy(at));
  facet *= inversesqrt(max(dot(facet, facet), 1e-30));
  float size = length(normal);
  bool outside = gl_FrontFacing != insideOut;
  vec3 n = size > 1e-3 ? normal / size * (gl_FrontFacing ? 1.0 : -1.0) : facet;

  vec3 base = material;
  if (coloured) {
    if (value.y > 0.5) {
      float share = (value.x / value.y - limits.x) / max(limits.y - limits.x, 1e-30);
      base = texture(palette, vec2((clamp(share, 0.0, 1.0) * 255.0 + 0.5) / 256.0, 0.5)).rgb;
    } else {
      // Undefined: hatched, so that it is no colour of the scale.
      base = vec3(0.62) - 0.16 * step(0.5, fract((gl_FragCoord.x + gl_FragCoord.y) / 10.0));
    }
  }
  if (!outside) base *= vec3(0.66, 0.72, 0.80);
  base = pow(base, vec3(2.2));

  vec3 key = normalize(0.55 * back + 0.62 * up - 0.52 * right);
  vec3 side = normalize(0.30 * back - 0.15 * up + 0.95 * right);
  vec3 mirrored = reflect(-toEye, n);
  float light = 0.30 + 0.12 * dot(n, up) + 0.66 * max(dot(n, key), 0.0) + 0.20 * max(dot(n, side), 0.0);
  float gleam = 0.10 * pow(max(dot(mirrored, key), 0.0), 24.0);
  if (striped) {
    float lit = stripes(mirrored);
    light = mix(0.55, 1.0, light) * mix(coloured ? 0.34 : 0.06, 1.05, lit);
    gleam = 0.0;
  }
  colour = vec4(pow(base * light + gleam, vec3(1.0 / 2.2)), 1);
}`;

// Lines as strips of a width in pixels, one instance for each piece.
const LINE_VERTEX = `#version 300 es
in vec2 corner;
in vec3 from, to;
in vec3 style;
uniform mat4 toClip;
uniform vec2 pixels;
uniform float scale, lens;
uniform vec3 eye, back;
uniform bool parallel;
uniform float widths[8];
out float across, along;
flat out int kind;
// As near as ground that slants by 45 degrees comes within half the line's width of it, so that none
// cuts the line.
vec4 raised(vec3 p, float halfWidth) {
  float pixel = 2.0 * lens / pixels.y * max((toClip * vec4(p, 1)).w, 0.0);
  return toClip * vec4(p + halfWidth * pixel * (parallel ? back : normalize(eye - p)), 1);
}
void main() {
  kind = int(style.z + 0.5);
  float halfWidth = 0.5 * widths[kind] * scale + 0.75;
  vec4 a = raised(from, halfWidth), b = raised(to, halfWidth);
  // Cut off what lies behind the viewer.
  float nearest = 1e-4;
  if (a.w < nearest && b.w >= nearest) a = mix(b, a, (b.w - nearest) / (b.w - a.w));
  if (b.w < nearest && a.w >= nearest) b = mix(a, b, (a.w - nearest) / (a.w - b.w));
  vec2 step = (b.xy / b.w - a.xy / a.w) * pixels;
  vec2 ahead = step / max(length(step), 1e-6);
  vec4 end = mix(a, b, corner.x);
  vec2 shift = vec2(-ahead.y, ahead.x) * corner.y * halfWidth + ahead * (corner.x * 2.0 - 1.0) * 0.35;
  end.xy += shift / pixels * 2.0 * end.w;
  gl_Position = end;
  across = corner.y * halfWidth / scale;
  along = mix(style.x, style.y, corner.x);
}`;

// Kinds: 0 plain, 1 border, 2 non-manifold, 3 crease, 4 shading break, 5 chosen place's rim and
// 6 the light rim about it.
const LINE_PIXEL = `#version 300 es
precision highp float;
in float across, along;
flat in int kind;
uniform float widths[8];
uniform float strength;
uniform vec3 colours[8];
uniform float opacities[8];
out vec4 colour;
void main() {
  float half_ = 0.5 * widths[kind];
  float soft = max(fwidth(across), 1e-3);
  float cover = clamp((half_ - abs(across)) / soft + 0.5, 0.0, 1.0);
  if (kind == 3) cover *= clamp((abs(across) - 0.9) / soft + 0.5, 0.0, 1.0);
  if (kind == 4 && fract(along * 5.0 + 0.2) > 0.6) discard;
  if (kind == 2 && fract(along * 9.0 + 0.25) > 0.5) discard;
  colour = vec4(colours[kind], cover * opacities[kind] * strength);
}`;

// Symbols of a size in pixels.
const SYMBOL_VERTEX = `#version 300 es
in vec2 corner;
in vec3 place;
in float symbol;
uniform mat4 toClip;
uniform vec2 pixels;
uniform vec3 eye, back;
uniform bool parallel;
uniform float size, lens;
out vec2 at;
flat out int kind;
void main() {
  vec4 p = toClip * vec4(place, 1);
  kind = int(symbol + 0.5);
  // As deep as a place nearer by twice its size, so that slanting ground does not cut it.
  float nearer = 4.0 * size / pixels.y * lens * p.w;
  vec4 before = toClip * vec4(place + nearer * (parallel ? back : normalize(eye - place)), 1);
  p.xy += corner * size / pixels * 2.0 * p.w;
  if (before.w > 0.0) p.z = before.z / before.w * p.w;
  at = corner;
  gl_Position = p;
}`;

// Kinds: 0 pole of valence 3, 1 of valence 5, 2 of 6 and more, 3 triangle, 4 n-gon, 5 chosen
// vertex, 6 vertex of the chosen place, 7 vertex under the pointer.
const SYMBOL_PIXEL = `#version 300 es
precision highp float;
in vec2 at;
flat in int kind;
uniform vec3 ink, halo, accent;
out vec4 colour;
float polygon(vec2 p, float sides, float turn) {
  float slice = 6.2831853 / sides;
  float angle = atan(p.x, p.y) + turn;
  return cos(floor(0.5 + angle / slice) * slice - angle) * length(p);
}
void main() {
  vec2 p = at * 1.25;
  float far = 2.0;
  float hole = -1.0;
  float edge = 0.62;
  if (kind == 0) { far = (abs(p.x) + abs(p.y)) * 0.72; hole = 0.34; }
  else if (kind == 1) far = (abs(p.x) + abs(p.y)) * 0.72;
  else if (kind == 2) { far = min(max(abs(p.x), abs(p.y)), (abs(p.x) + abs(p.y)) * 0.72); edge = 0.6; }
  else if (kind == 3) { far = polygon(p + vec2(0, 0.12), 3.0, 3.14159265) * 1.35; edge = 0.58; }
  else if (kind == 4) { far = polygon(p, 6.0, 0.0) * 1.02; hole = 0.32; }
  else if (kind == 5) { far = length(p); edge = 0.92; hole = 0.62; }
  else if (kind == 6) { far = length(p) * 1.8; }
  else { far = length(p); edge = 0.7; hole = 0.46; }
  float soft = fwidth(far);
  float body = clamp((edge - far) / soft + 0.5, 0.0, 1.0);
  float rim = clamp((edge + 0.2 - far) / soft + 0.5, 0.0, 1.0);
  float inside = hole < 0.0 ? 0.0 : clamp((hole - far) / soft + 0.5, 0.0, 1.0);
  vec3 fill = kind >= 5 ? accent : ink;
  vec3 tone = mix(halo, fill, body * (1.0 - inside));
  float opacity = kind == 5 || kind == 7 ? rim * (1.0 - clamp((hole - 0.16 - far) / soft + 0.5, 0.0, 1.0)) : rim;
  if (opacity < 0.01) discard;
  colour = vec4(tone, opacity);
}`;
