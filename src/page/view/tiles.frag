// What a sample shows: tile, part of it, and how strongly the line round the tile is drawn.
uniform float morph;
// Samples for the whole depth range, and CSS pixels a metre.
uniform float depth_samples;
uniform float pixels_per_m;

flat in float v_code;
flat in float v_side;
in float v_depth;

layout (location = 0) out vec4 sample_out;

void main() {
    float kind = mod(v_code + 0.5, 4.0);
    float index = floor((v_code + 0.5) / 4.0);
    bool face = kind < 1.0;
    bool plain = kind >= 2.0;
    // 0 face, 1 side or back, 2 surface without tiles, 3 nothing (cleared).
    float part = plain ? 2.0 : (face && (gl_FrontFacing || morph > 0.0)) ? 0.0 : 1.0;
    // A tile a few pixels wide, as it is seen, has a fainter line round it, so that its colour is still seen.
    vec2 slope = vec2(dFdx(v_depth), dFdy(v_depth)) * depth_samples;
    float wide = v_side * pixels_per_m * inversesqrt(1.0 + dot(slope, slope));
    float strength = plain ? 63.0 : floor(clamp((wide - 1.0) / 7.0, 0.22, 1.0) * 63.0 + 0.5);
    sample_out = vec4(mod(index, 256.0), mod(floor(index / 256.0), 256.0), floor(index / 65536.0), part * 64.0 + strength) / 255.0;
}
