// One vertex of a tile, on its way from the shield to the map.
uniform mat4 shield;
uniform mat4 map;
uniform float morph;
// Metres of joint that are opened; 0 while it would be thinner than a sample.
uniform float joint;

in vec3 position;
in vec3 place;
in vec4 inset;
in float code;

flat out float v_code;
flat out float v_side;
out float v_depth;

void main() {
    float kind = mod(code, 4.0);
    gl_Position = mix(shield * vec4(position + inset.xyz * joint, 1.0), map * vec4(place, 1.0), morph);
    // Surface without tiles has no place on the map.
    if (kind > 1.5 && morph > 0.0) gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
    v_code = code;
    v_side = inset.w;
    v_depth = gl_Position.z;
}
