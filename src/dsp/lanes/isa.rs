//! Which compiled copy of a kernel runs, and the macro that makes the copies.
//!
//! Takes the features of the processor, gives a choice. Never lets a copy run that the processor lacks: a choice can only
//! be had from the detection.

/// The instruction set that kernels use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Isa(pub(super) Choice);

/// The compiled copies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Choice {
    Plain,
    #[cfg(target_arch = "x86_64")]
    Avx2,
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl Isa {
    /// The copy that every machine can run.
    pub const PLAIN: Self = Self(Choice::Plain);

    /// The widest copy that this machine can run.
    pub fn best() -> Self {
        *Self::all().last().unwrap_or(&Self::PLAIN)
    }

    /// Whether registers hold eight lanes of single precision.
    pub(super) fn holds_frames(self) -> bool {
        self != Self::PLAIN
    }

    /// Whether registers hold sixteen lanes of single precision, and there are 32 of them.
    pub(super) fn is_wide(self) -> bool {
        #[cfg(target_arch = "x86_64")]
        return self.0 == Choice::Avx512;
        #[cfg(not(target_arch = "x86_64"))]
        false
    }

    /// All copies that this machine can run, plain first.
    pub fn all() -> Vec<Self> {
        let mut all = vec![Self::PLAIN];
        #[cfg(target_arch = "x86_64")]
        {
            if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
                all.push(Self(Choice::Avx2));
                let has_512 = is_x86_feature_detected!("avx512f")
                    && is_x86_feature_detected!("avx512vl")
                    && is_x86_feature_detected!("avx512dq")
                    && is_x86_feature_detected!("avx512bw");
                if has_512 {
                    all.push(Self(Choice::Avx512));
                }
            }
        }
        all
    }
}

/// Makes a function `name(isa, arguments)` whose body is compiled once for each instruction set.
///
/// With `narrow`, the widest machines run the AVX2 copy: frames of eight single-precision lanes fill its registers, and for
/// wider ones the compiler glues two values together and parts them again (bands ran at 3,500 instead of 5,000
/// channel-seconds a second).
macro_rules! dispatch {
    (narrow $($rest:tt)*) => { dispatch! { @widest "avx2,fma"; $($rest)* } };
    (
        @widest $features:literal;
        $(#[$meta:meta])*
        $vis:vis fn $name:ident [$(const $size:ident),*] ($($arg:ident: $type:ty),* $(,)?) $(-> $ret:ty)? $body:block
    ) => {
        $(#[$meta])*
        $vis fn $name<$(const $size: usize),*>(isa: $crate::dsp::lanes::Isa, $($arg: $type),*) $(-> $ret)? {
            #[inline(always)]
            fn plain<$(const $size: usize),*>($($arg: $type),*) $(-> $ret)? $body

            #[cfg(target_arch = "x86_64")]
            #[target_feature(enable = "avx2,fma")]
            fn avx2<$(const $size: usize),*>($($arg: $type),*) $(-> $ret)? {
                plain::<$($size),*>($($arg),*)
            }

            #[cfg(target_arch = "x86_64")]
            #[target_feature(enable = $features)]
            fn widest<$(const $size: usize),*>($($arg: $type),*) $(-> $ret)? {
                plain::<$($size),*>($($arg),*)
            }

            match isa.0 {
                super::isa::Choice::Plain => plain::<$($size),*>($($arg),*),
                #[cfg(target_arch = "x86_64")]
                #[expect(unsafe_code, reason = "the choice exists only where the features were detected")]
                // SAFETY: `Isa` gives this choice only if the processor has all the features named above.
                super::isa::Choice::Avx2 => unsafe { avx2::<$($size),*>($($arg),*) },
                #[cfg(target_arch = "x86_64")]
                #[expect(unsafe_code, reason = "the choice exists only where the features were detected")]
                // SAFETY: as above.
                super::isa::Choice::Avx512 => unsafe { widest::<$($size),*>($($arg),*) },
            }
        }
    };
    ($($rest:tt)*) => { dispatch! { @widest "avx512f,avx512vl,avx512dq,avx512bw,avx2,fma"; $($rest)* } };
}

pub(super) use dispatch;
