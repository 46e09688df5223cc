//! Names the language or the machine gives.

/// How the machine words a shortage of memory.
pub(crate) const OUT_OF_MEMORY: &str = "not enough memory";

/// The chunk name of our own Luau.
pub(crate) const PRELUDE: &str = "[oddments]";

/// The global that looks at keys. No script can name it: it is no word.
pub(crate) const KEY_GUARD: &str = "the key of an entry";

/// Library functions with a stand-in of ours; the compiler must not shortcut them.
pub(crate) const REPLACED: [&str; 11] = [
    "string.find",
    "string.match",
    "string.gmatch",
    "string.gsub",
    "string.format",
    "table.sort",
    "tostring",
    "pcall",
    "xpcall",
    "rawset",
    "require",
];

/// Functions a Lua author may look for, and why they are not here.
pub(crate) const REMOVED: [(&str, &str); 13] = [
    ("math.random", "the same input must always give the same garment"),
    ("string.split", "walk over string.gmatch instead"),
    ("table.move", "copy in a loop, or use table.clone"),
    ("print", "tell the knitter with warn or step.note"),
    ("os", "the same input must always give the same garment"),
    ("io", "what a garment needs is in `input`"),
    ("debug", "errors show their line by themselves"),
    ("_G", "name globals directly, or keep them in a table of your own"),
    ("loadstring", "put code in a module and require it"),
    ("load", "put code in a module and require it"),
    ("dofile", "put code in a module and require it"),
    ("getfenv", "environments are the host's"),
    ("collectgarbage", "memory is the host's"),
];

/// Every name a script can reach without the API. What the language adds later stays out.
pub(crate) const ALLOWED: &[(&str, &[&str])] = &[
    (
        "",
        &[
            "_VERSION",
            "assert",
            "error",
            "getmetatable",
            "ipairs",
            "next",
            "pairs",
            "pcall",
            "rawequal",
            "rawget",
            "rawlen",
            "rawset",
            "select",
            "setmetatable",
            "tonumber",
            "tostring",
            "type",
            "typeof",
            "unpack",
            "xpcall",
        ],
    ),
    (
        "bit32",
        &[
            "arshift", "band", "bnot", "bor", "btest", "bxor", "byteswap", "countlz", "countrz",
            "extract", "lrotate", "lshift", "replace", "rrotate", "rshift",
        ],
    ),
    (
        "buffer",
        &[
            "copy",
            "create",
            "fill",
            "fromstring",
            "len",
            "readbits",
            "readf32",
            "readf64",
            "readi16",
            "readi32",
            "readi8",
            "readstring",
            "readu16",
            "readu32",
            "readu8",
            "tostring",
            "writebits",
            "writef32",
            "writef64",
            "writei16",
            "writei32",
            "writei8",
            "writestring",
            "writeu16",
            "writeu32",
            "writeu8",
        ],
    ),
    (
        "coroutine",
        &["close", "create", "isyieldable", "resume", "running", "status", "wrap", "yield"],
    ),
    (
        "math",
        &[
            "abs", "acos", "asin", "atan", "atan2", "ceil", "clamp", "cos", "cosh", "deg", "exp",
            "floor", "fmod", "frexp", "huge", "isfinite", "isinf", "isnan", "ldexp", "lerp", "log",
            "log10", "map", "max", "min", "modf", "noise", "pi", "pow", "rad", "round", "sign",
            "sin", "sinh", "sqrt", "tan", "tanh",
        ],
    ),
    (
        "string",
        &[
            "byte", "char", "find", "format", "gmatch", "gsub", "len", "lower", "match", "pack",
            "packsize", "rep", "reverse", "sub", "unpack", "upper",
        ],
    ),
    (
        "table",
        &[
            "clear", "clone", "concat", "create", "find", "foreach", "foreachi", "freeze", "getn",
            "insert", "isfrozen", "maxn", "pack", "remove", "sort", "unpack",
        ],
    ),
    ("utf8", &["char", "charpattern", "codepoint", "codes", "len", "offset"]),
    (
        "vector",
        &[
            "abs",
            "angle",
            "ceil",
            "clamp",
            "create",
            "cross",
            "dot",
            "floor",
            "lerp",
            "magnitude",
            "max",
            "min",
            "normalize",
            "one",
            "sign",
            "zero",
        ],
    ),
];

/// The module behind a chunk name; `None` for our own code and for C functions.
pub(crate) fn chunk_of(source: &str) -> Option<&str> {
    source.strip_prefix('=').filter(|name| !name.starts_with('['))
}
