// From samples to pixels. A pixel all of whose samples lie inside one tile gets that tile's colour of the palette, unchanged:
// colours are averaged at edges alone.
uniform sampler2D samples;
uniform sampler2D depths;
uniform sampler2D values;
uniform sampler2D palette;
// Samples a pixel along each side, and pixels a CSS pixel.
uniform int across;
uniform float ratio;
// Half the line between tiles, in samples; the keyline is twice as wide.
uniform int reach;
// Depth, in units of the depth texture, beyond which a neighbour is another part of the body.
uniform float apart;
// A gap up to this many samples wide between two tiles is no edge of the body and gets no keyline.
uniform int closes;
uniform vec3 stage;
uniform vec3 key;
uniform vec3 side;

layout (location = 0) out vec4 colour;

const vec2 AROUND[8] = vec2[8](vec2(1, 0), vec2(-1, 0), vec2(0, 1), vec2(0, -1), vec2(0.71, 0.71), vec2(-0.71, 0.71), vec2(0.71, -0.71), vec2(-0.71, -0.71));

ivec2 last;

ivec4 sample_at(ivec2 at) {
    return ivec4(texelFetch(samples, clamp(at, ivec2(0), last), 0) * 255.0 + 0.5);
}

float depth_at(ivec2 at) {
    return texelFetch(depths, clamp(at, ivec2(0), last), 0).r;
}

ivec2 step_to(int direction, int far) {
    return ivec2(round(AROUND[direction] * float(far)));
}

vec3 tile_colour(ivec4 s, vec2 at) {
    int index = s.r + s.g * 256 + s.b * 65536;
    ivec2 size = textureSize(values, 0);
    // Textures are filled from the last row.
    ivec4 value = ivec4(texelFetch(values, ivec2(index % size.x, size.y - 1 - index / size.x), 0) * 255.0 + 0.5);
    if ((value.b & 1) == 1 && length(mod(at, 6.0) - 3.0) < 1.15) return stage;
    return texelFetch(palette, ivec2(value.r, textureSize(palette, 0).y - 1 - value.g), 0).rgb;
}

// Something lies before this sample in one direction: is that the edge of a part of the body, or a tile with another across a
// narrow gap?
bool edge(ivec2 at, int direction, float depth) {
    int opposite = direction < 4 ? direction ^ 1 : 11 - direction;
    for (int far = reach; far <= closes; far += reach) {
        ivec2 to = at + step_to(opposite, far);
        if (sample_at(to).a < 192 && depth - depth_at(to) > apart) return false;
    }
    return true;
}

// A face lies within the width of a narrow gap in one direction.
bool face_by(ivec2 at, int direction) {
    for (int far = reach; far <= closes; far += reach) {
        if (sample_at(at + step_to(direction, far)).a < 64) return true;
    }
    return false;
}

vec3 seen(ivec2 at, vec2 css) {
    ivec4 s = sample_at(at);
    int part = s.a / 64;
    if (part == 3) {
        for (int i = 0; i < 8; i++) {
            bool near = sample_at(at + step_to(i, reach)).a < 192 || sample_at(at + step_to(i, 2 * reach)).a < 192;
            if (near && edge(at, i, 2.0)) return key;
        }
        return stage;
    }
    // Through a joint too narrow to look into one sees neither side nor back.
    if (part == 1) {
        for (int i = 0; i < 6; i++) {
            if (i != 1 && i != 3 && face_by(at, i) && face_by(at, i < 4 ? i ^ 1 : 11 - i)) return stage;
        }
    }
    vec3 own = part == 1 ? side : tile_colour(s, css);
    if (part == 2) own = texelFetch(palette, ivec2(0, textureSize(palette, 0).y - 4), 0).rgb;
    float line = 0.0;
    float depth = depth_at(at);
    for (int i = 0; i < 8; i++) {
        ivec2 to = at + step_to(i, reach);
        ivec4 n = sample_at(to);
        if (n.a >= 192 || (n.rgb == s.rgb && n.a / 64 == part)) continue;
        float behind = depth - depth_at(to);
        if (behind > apart) {
            if (edge(at, i, depth)) return key;
            return stage;
        }
        if (behind > -apart) line = max(line, float(min(s.a & 63, n.a & 63)) / 63.0);
    }
    return mix(own, stage, line);
}

void main() {
    last = textureSize(samples, 0) - 1;
    ivec2 from = ivec2(gl_FragCoord.xy) * across;
    vec3 sum = vec3(0.0);
    for (int j = 0; j < across; j++) {
        for (int i = 0; i < across; i++) {
            vec2 css = (gl_FragCoord.xy - 0.5 + (vec2(i, j) + 0.5) / float(across)) / ratio;
            sum += seen(from + ivec2(i, j), css);
        }
    }
    colour = vec4(sum / float(across * across), 1.0);
}
