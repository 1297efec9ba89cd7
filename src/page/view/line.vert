// One piece of a line along a tile's outline or diagonal, as wide on the screen as asked for.
uniform mat4 shield;
uniform mat4 map;
uniform float morph;
uniform vec3 eye;
// Canvas in pixels, half the line's width in pixels, CSS pixels a metre.
uniform vec2 size;
uniform float half_width;
uniform float pixels_per_m;

in vec3 start;
in vec3 end;
in vec3 map_start;
in vec3 map_end;
// The tile's outward normal; the tile's smallest side for a diagonal, 0 for an outline.
in vec4 facing;

out vec2 v_at;
out float v_depth;
flat out vec2 v_start;
flat out vec2 v_end;

void main() {
    vec4 a = mix(shield * vec4(start, 1.0), map * vec4(map_start, 1.0), morph);
    vec4 b = mix(shield * vec4(end, 1.0), map * vec4(map_end, 1.0), morph);
    float toward = mix(dot(facing.xyz, eye), 1.0, morph);
    bool far = facing.w > 0.0 && facing.w * pixels_per_m * toward < 6.0;
    v_start = (a.xy * 0.5 + 0.5) * size;
    v_end = (b.xy * 0.5 + 0.5) * size;
    vec2 along = v_end - v_start;
    along = dot(along, along) > 1e-6 ? normalize(along) : vec2(1.0, 0.0);
    vec2 aside = vec2(-along.y, along.x);
    float out_by = half_width + 1.0;
    int corner = gl_VertexID % 6;
    bool at_end = corner == 1 || corner == 2 || corner == 4;
    float which = (corner == 2 || corner == 4 || corner == 5) ? 1.0 : -1.0;
    v_at = (at_end ? v_end + along * out_by : v_start - along * out_by) + aside * out_by * which;
    v_depth = (at_end ? b.z : a.z) * 0.5 + 0.5;
    gl_Position = far || toward < 0.02 ? vec4(2.0, 2.0, 2.0, 1.0) : vec4(v_at / size * 2.0 - 1.0, 0.0, 1.0);
}
