// What a sample is drawn as: its tile with the strength of the line over it, the line between parts of the body, or nothing. It depends
// on the place of the eye alone, so a recolour reads it as it stands.
uniform sampler2D samples;
uniform sampler2D depths;
// Half the line between tiles, in samples; the keyline is twice as wide.
uniform int reach;
// Depth, in units of the depth texture, beyond which a neighbour is another part of the body.
uniform float apart;
// A gap up to this many samples wide between two tiles is no edge of the body and gets no keyline.
uniform int closes;

// The sample's tile; what it is times 64 (0 face, 1 side or back, 2 surface without tiles) plus the line's strength; NOTHING, or KEY.
layout (location = 0) out vec4 mark;

const vec4 NOTHING = vec4(0.0, 0.0, 0.0, 192.0 / 255.0);
const vec4 KEY = vec4(0.0, 0.0, 0.0, 193.0 / 255.0);

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

vec4 drawn_as(ivec2 at) {
    ivec4 s = sample_at(at);
    int part = s.a / 64;
    if (part == 3) {
        for (int i = 0; i < 8; i++) {
            bool near = sample_at(at + step_to(i, reach)).a < 192 || sample_at(at + step_to(i, 2 * reach)).a < 192;
            if (near && edge(at, i, 2.0)) return KEY;
        }
        return NOTHING;
    }
    // Through a joint too narrow to look into one sees neither side nor back.
    if (part == 1) {
        for (int i = 0; i < 6; i++) {
            if (i != 1 && i != 3 && face_by(at, i) && face_by(at, i < 4 ? i ^ 1 : 11 - i)) return NOTHING;
        }
    }
    int line = 0;
    float depth = depth_at(at);
    for (int i = 0; i < 8; i++) {
        ivec2 to = at + step_to(i, reach);
        ivec4 n = sample_at(to);
        if (n.a >= 192 || (n.rgb == s.rgb && n.a / 64 == part)) continue;
        float behind = depth - depth_at(to);
        if (behind > apart) return edge(at, i, depth) ? KEY : NOTHING;
        if (behind > -apart) line = max(line, min(s.a & 63, n.a & 63));
    }
    return vec4(s.rgb, part * 64 + line) / 255.0;
}

void main() {
    last = textureSize(samples, 0) - 1;
    mark = drawn_as(ivec2(gl_FragCoord.xy));
}
