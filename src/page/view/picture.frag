// From marks to pixels. A pixel all of whose samples lie inside one tile gets that tile's colour of the palette, unchanged:
// colours are averaged at edges alone.
uniform sampler2D marks;
uniform sampler2D values;
uniform sampler2D palette;
// Samples a pixel along each side, and pixels a CSS pixel.
uniform int across;
uniform float ratio;
uniform vec3 stage;
uniform vec3 key;
uniform vec3 side;

layout (location = 0) out vec4 colour;

// The colour of a mark (edges.frag says what it holds); `dotted` for an estimate.
vec3 colour_of(ivec4 mark, out bool dotted) {
    dotted = false;
    int part = mark.a / 64;
    if (part == 3) return mark.a == 193 ? key : stage;
    vec3 own = side;
    // Textures are filled from the last row.
    if (part == 2) own = texelFetch(palette, ivec2(0, textureSize(palette, 0).y - 4), 0).rgb;
    if (part == 0) {
        int index = mark.r + mark.g * 256 + mark.b * 65536;
        ivec2 size = textureSize(values, 0);
        ivec4 value = ivec4(texelFetch(values, ivec2(index % size.x, size.y - 1 - index / size.x), 0) * 255.0 + 0.5);
        own = texelFetch(palette, ivec2(value.r, textureSize(palette, 0).y - 1 - value.g), 0).rgb;
        dotted = (value.b & 1) == 1;
    }
    return mix(own, stage, float(mark.a & 63) / 63.0);
}

void main() {
    ivec2 from = ivec2(gl_FragCoord.xy) * across;
    vec3 sum = vec3(0.0);
    // Samples of a pixel are mostly alike: each colour is looked up once.
    vec4 known = vec4(-1.0);
    vec3 own = stage;
    bool dotted = false;
    for (int j = 0; j < across; j++) {
        for (int i = 0; i < across; i++) {
            vec4 mark = texelFetch(marks, from + ivec2(i, j), 0);
            if (mark != known) {
                own = colour_of(ivec4(mark * 255.0 + 0.5), dotted);
                known = mark;
            }
            bool dot_here = false;
            if (dotted) {
                vec2 css = (gl_FragCoord.xy - 0.5 + (vec2(i, j) + 0.5) / float(across)) / ratio;
                dot_here = length(mod(css, 6.0) - 3.0) < 1.15;
            }
            sum += dot_here ? stage : own;
        }
    }
    colour = vec4(sum / float(across * across), 1.0);
}
