//! stub
use crate::dsp::Group;
use crate::unit::{Span,Unmeasured};
/// stub
pub struct Voice;
impl Voice { /// stub
 pub fn pops(&self,_:&[Span],_:f64,_:&[f64])->Vec<f64>{vec![]} /// stub
 pub fn ess_db(&self,_:&[Span],_:f64)->Result<f64,Unmeasured>{Err(Unmeasured::Silent)} }
/// stub
pub struct VoiceMeter(usize);
impl VoiceMeter{ /// stub
 pub fn new(_:u32,n:usize)->Self{Self(n)} /// stub
 pub fn push(&mut self,_:Group<'_>){} /// stub
 pub fn finish(self)->Vec<Voice>{(0..self.0).map(|_|Voice).collect()} }
