// A line with round ends and soft edges, left out where the body hides it.
uniform sampler2D depths;
uniform vec2 size;
uniform float half_width;
// Depth by which the surface may lie before the line without hiding it.
uniform float within;
uniform vec3 ink;

in vec2 v_at;
in float v_depth;
flat in vec2 v_start;
flat in vec2 v_end;

layout (location = 0) out vec4 colour;

void main() {
    vec2 along = v_end - v_start;
    float share = clamp(dot(v_at - v_start, along) / max(dot(along, along), 1e-6), 0.0, 1.0);
    float cover = clamp(half_width + 0.5 - length(v_at - v_start - along * share), 0.0, 1.0);
    float before = texture(depths, v_at / size).r;
    if (cover <= 0.0 || v_depth > before + within) discard;
    colour = vec4(ink, cover);
}
